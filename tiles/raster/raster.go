// Package raster proves that bytes are a whole tile image, decodes them, cuts
// and enlarges the part that a deeper tile covers, and encodes the result.
//
// [Prove] is for every tile that arrives: it walks the parts of the file to its
// end and decodes no pixel. [Decode] is for the few that must be redrawn.
package raster

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"

	"groundsheet/tiles/fault"
)

// Kind is the format of a tile, in the words of the MBTiles 1.3 format row.
type Kind string

// The kinds that a pack may hold.
const (
	PNG  Kind = "png"
	JPG  Kind = "jpg"
	WebP Kind = "webp"
	PBF  Kind = "pbf" // vector tiles, packed by gzip: package mvt reads them
)

// MediaType is the IETF media type of the kind; application/octet-stream for
// a kind that is none of them.
func (k Kind) MediaType() string {
	switch k {
	case PNG:
		return "image/png"
	case JPG:
		return "image/jpeg"
	case WebP:
		return "image/webp"
	case PBF:
		return "application/vnd.mapbox-vector-tile"
	}
	return "application/octet-stream"
}

// Picture is what the headers of an image say. Width and height are in pixels.
type Picture struct {
	Kind          Kind
	Width, Height int
}

// Prove says what image the bytes hold, without decoding pixels. It is nil
// only when the kind is known by content and the file is whole:
//
//   - PNG: header, every chunk's length and CRC, image data, IEND at the end;
//   - JPEG: every marker up to EOI, with dimensions and at least one scan;
//     damage inside the entropy-coded data is not seen;
//   - WebP: the RIFF length and the chunks within it, one still image.
//
// Zero bytes after the end are accepted as padding; anything else there is a
// flaw. With side > 0 the image must be side×side pixels. The error is a
// [*fault.Fault]; Picture is filled as far as it was read.
func Prove(data []byte, side int) (Picture, error) {
	p, end, err := walk(data)
	if err != nil {
		return p, err
	}
	if len(bytes.TrimLeft(data[end:], "\x00")) > 0 {
		return p, flaw(Trailing, fmt.Sprintf("%d bytes follow the end of the %s", len(data)-end, name(p.Kind)))
	}
	if side > 0 && (p.Width != side || p.Height != side) {
		return p, flaw(WrongSize, fmt.Sprintf("%d×%d expected, %d×%d came", side, side, p.Width, p.Height))
	}
	return p, nil
}

// walk finds the kind by content and the offset where the image ends.
func walk(data []byte) (Picture, int, error) {
	switch {
	case len(data) == 0:
		return Picture{}, 0, flaw(Empty, "no bytes, not an image")
	case bytes.HasPrefix(data, []byte(pngSignature)):
		return walkPNG(data)
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return walkJPEG(data)
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP":
		return walkWebP(data)
	}
	return Picture{}, 0, other(data)
}

// other names what came instead of an image.
func other(data []byte) error {
	for _, start := range []string{pngSignature, "\xff\xd8\xff", "RIFF"} {
		if len(data) < 12 && strings.HasPrefix(start, string(data[:min(len(data), len(start))])) {
			return flaw(Truncated, "cut short in its first bytes")
		}
	}
	kind, _, _ := strings.Cut(http.DetectContentType(data), ";")
	switch {
	case kind == "text/html":
		return flaw(HTML, "an HTML page, not an image")
	case kind == "text/xml", bytes.HasPrefix(bytes.TrimSpace(data), []byte("<")):
		return flaw(XML, "an XML message, not an image")
	case kind == "text/plain":
		return flaw(NotImage, "plain text, not an image")
	case strings.HasPrefix(kind, "image/"):
		return flaw(NotImage, kind+", not PNG, JPEG or WebP")
	case kind == "application/x-gzip":
		return flaw(NotImage, "gzip data, not an image")
	}
	return flaw(NotImage, "not an image")
}

// name is the kind as people write it.
func name(k Kind) string {
	switch k {
	case JPG:
		return "JPEG"
	case WebP:
		return "WebP"
	}
	return "PNG"
}

// The kinds of the errors of [Prove] and [Decode]. Their details never quote the
// bytes: an error page may repeat the secret of the request it answers.
var (
	Empty     = fault.Input("empty")        // no bytes at all
	HTML      = fault.Input("html")         // a web page, often an error or a sign-in page
	XML       = fault.Input("xml")          // an XML message, often a service exception
	NotImage  = fault.Input("not an image") // anything else that is not PNG, JPEG or WebP
	Truncated = fault.Input("truncated")    // the bytes stop before the image ends
	Checksum  = fault.Input("bad checksum") // a PNG chunk does not match its CRC
	Broken    = fault.Input("broken")       // the parts contradict the format, or do not decode
	Variant   = fault.Input("variant")      // well formed, but a form that viewers do not show
	Trailing  = fault.Input("trailing")     // other bytes than zeros follow the end
	WrongSize = fault.Input("wrong size")   // not the pixels that were expected
	TooLarge  = fault.Input("too large")    // more pixels than [Decode] is willing to hold
)

func flaw(kind *fault.Kind, detail string) error { return &fault.Fault{Kind: kind, Detail: detail} }

// Package document answers with documents: those of a pack, the list of packs, the
// files of the page, and errors.
package document

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/serve/web"
)

// Media types of documents.
const (
	JSON    = "application/json"
	GeoJSON = "application/geo+json"
)

// Asset is a document that is ready to be sent.
type Asset struct {
	CacheControl string // "" = no-cache

	media         string
	plain, zipped []byte // zipped is nil where compressing does not pay
	length        int    // of the plain text; plain is nil when only zipped is kept
	tag           string
}

// NewAsset makes a document, compressed where that pays.
func NewAsset(media string, body []byte) Asset {
	a := Asset{media: media, plain: body, length: len(body), tag: tagOf(body)}
	if len(body) >= 1024 {
		if zipped := compress(body, gzip.DefaultCompression); len(zipped) < len(body)*9/10 {
			a.zipped = zipped
		}
	}
	return a
}

// NewLargeAsset makes a document that is kept compressed only, a tenth of the memory.
// Readers of plain text get it decompressed while it is sent.
func NewLargeAsset(media string, body []byte) Asset {
	return Asset{media: media, zipped: bytes.Clone(compress(body, gzip.BestSpeed)), length: len(body), tag: tagOf(body)}
}

func tagOf(body []byte) string {
	sum := sha256.Sum256(body)
	return fmt.Sprintf("%x", sum[:12])
}

func compress(body []byte, level int) []byte {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, level) // the levels are valid
	_, _ = z.Write(body)                   // a bytes.Buffer never fails
	_ = z.Close()
	return b.Bytes()
}

// Size is what the document takes in memory, in bytes.
func (a Asset) Size() int { return len(a.plain) + len(a.zipped) }

// Empty reports whether the document has no content.
func (a Asset) Empty() bool { return a.length == 0 }

func (a Asset) large() bool { return a.plain == nil && a.length > 0 }

// ServeHTTP sends the document under a strong ETag of its content.
func (a Asset) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", a.media)
	h.Set("Cache-Control", cmp.Or(a.CacheControl, "no-cache"))
	h.Add("Vary", "Accept-Encoding")
	body, tag := io.ReadSeeker(bytes.NewReader(a.plain)), a.tag
	switch {
	case a.zipped != nil && acceptsGzip(r):
		h.Set("Content-Encoding", "gzip")
		body, tag = bytes.NewReader(a.zipped), tag+"-gzip"
	case a.large():
		body = &decompressor{zipped: a.zipped, length: int64(a.length)}
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, body)
}

func acceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, weighed := strings.Cut(strings.ReplaceAll(part, " ", ""), ";q=")
		if !strings.EqualFold(name, "gzip") {
			continue
		}
		weight, err := strconv.ParseFloat(q, 64)
		return !weighed || err == nil && weight > 0
	}
	return false
}

// decompressor reads a compressed document as plain text, from any offset. Seeking
// back decompresses from the start.
type decompressor struct {
	zipped []byte
	length int64
	offset int64 // of the next read
	at     int64 // of zip
	zip    *gzip.Reader
}

// Seek sets the offset of the next read.
func (d *decompressor) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += d.offset
	case io.SeekEnd:
		offset += d.length
	}
	if offset < 0 {
		return 0, errors.New("before the beginning")
	}
	d.offset = offset
	return offset, nil
}

// Read reads from the offset on.
func (d *decompressor) Read(b []byte) (int, error) {
	if d.offset >= d.length {
		return 0, io.EOF
	}
	if d.zip == nil || d.offset < d.at {
		var err error
		if d.zip, err = gzip.NewReader(bytes.NewReader(d.zipped)); err != nil {
			return 0, err
		}
		d.at = 0
	}
	skipped, err := io.CopyN(io.Discard, d.zip, d.offset-d.at)
	if d.at += skipped; err != nil {
		return 0, err
	}
	n, err := d.zip.Read(b)
	d.at += int64(n)
	d.offset = d.at
	return n, err
}

// Page reads the files of the page once and serves them from memory.
func Page(files fs.FS) (http.Handler, error) {
	assets := map[string]Asset{}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || strings.HasPrefix(d.Name(), ".") && name != "." {
			return err
		}
		if d.IsDir() && name != "." {
			return fs.SkipDir // another page
		}
		if d.IsDir() {
			return nil
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		assets["/"+name] = NewAsset(web.MediaOf(name), body)
		return nil
	})
	if err != nil {
		return nil, err
	}
	assets["/"] = assets["/index.html"]
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, ok := assets[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		a.ServeHTTP(w, r)
	}), nil
}

// SetPreload has a browser fetch, with the page itself, what its script will ask for
// first (RFC 8288): the list of packs, and the documents of the pack at an address;
// nil = of none.
func SetPreload(h http.Header, at *Address) {
	paths := []string{"/packs.json"}
	if at != nil {
		for _, name := range []string{"about.json", "tilejson.json", "area.geojson", "overlays.json"} {
			paths = append(paths, at.Path(name))
		}
	}
	for i, path := range paths { // crossorigin: the page's requests carry no credentials of other origins
		paths[i] = "<" + path + ">; rel=preload; as=fetch; crossorigin=anonymous"
	}
	h.Set("Link", strings.Join(paths, ", "))
}

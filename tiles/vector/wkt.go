package vector

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"groundsheet/tiles/geojson"
)

// wkt reads one or more geometries in the well-known text of OGC 06-103r4, one
// after another. EWKT's "SRID=4326;" may stand before each. The parser is our
// own: orb's knows no heights and no SRID.
func (b *basket) wkt(f File) error {
	b.info.Format = "WKT"
	text := string(withoutMark(f.Data))
	if strings.ToValidUTF8(text, "") != text {
		return fault(geojson.RuleEncoding, "file", "not UTF-8 text", "save the file as UTF-8")
	}
	w := &wktReader{basket: b, text: text}
	for w.blank(); w.at < len(w.text); w.blank() {
		if err := w.feature(); err != nil {
			return err
		}
	}
	w.noteLeftOut(w.empty, "empty shape", "without coordinates")
	if b.info.Datum == "" {
		b.note("The file does not name its datum; its degrees were taken as WGS 84.")
	}
	return nil
}

// looksLikeWKT tells WKT from a table: it begins with a geometry or an SRID.
func looksLikeWKT(data []byte) bool {
	text := bytes.ToUpper(bytes.TrimSpace(withoutMark(data[:min(len(data), sniffed)])))
	if bytes.HasPrefix(text, []byte("SRID=")) {
		return true
	}
	end := bytes.IndexFunc(text, func(r rune) bool { return r < 'A' || r > 'Z' })
	if end < 0 {
		return false
	}
	_, ok := wktKind(string(text[:end]))
	return ok && bytes.ContainsAny(text[end:], "(E")
}

// wktKind takes off the dimension that may be written on a type: POINTZM.
func wktKind(word string) (string, bool) {
	kinds := []string{"POINT", "LINESTRING", "POLYGON", "MULTIPOINT", "MULTILINESTRING", "MULTIPOLYGON", "GEOMETRYCOLLECTION"}
	for _, kind := range kinds {
		if rest, ok := strings.CutPrefix(word, kind); ok && slices.Contains([]string{"", "Z", "M", "ZM"}, rest) {
			return kind, true
		}
	}
	return word, false
}

type wktReader struct {
	*basket
	text        string
	at          int
	points      int // read so far, kept or not
	parts       int
	empty       int
	line, until int // number of the line, and the byte it was counted to
}

// lineNumber is the number of the line of the next character. It counts on
// from where it was asked before.
func (w *wktReader) lineNumber() int {
	w.line += strings.Count(w.text[w.until:w.at], "\n")
	w.until = w.at
	return w.line + 1
}

// here is the place of the next character, for messages.
func (w *wktReader) here() string {
	return fmt.Sprintf("line %d, character %d", w.lineNumber(), w.at-strings.LastIndexByte(w.text[:w.at], '\n'))
}

func (w *wktReader) wrong(detail string) error {
	return fault(RuleWKT, w.here(), detail, "a shape is written like POLYGON ((-105 40, -104.9 40, -104.9 40.1, -105 40))")
}

func (w *wktReader) blank() {
	for w.at < len(w.text) && strings.IndexByte(" \t\r\n", w.text[w.at]) >= 0 {
		w.at++
	}
}

// take passes over one character, with the blanks before it.
func (w *wktReader) take(c byte) bool {
	w.blank()
	if w.at < len(w.text) && w.text[w.at] == c {
		w.at++
		return true
	}
	return false
}

func (w *wktReader) need(c byte) error {
	if w.take(c) {
		return nil
	}
	if w.at == len(w.text) {
		return w.wrong(fmt.Sprintf("the text ends where %q belongs", c))
	}
	return w.wrong(fmt.Sprintf("%q belongs here", c))
}

// word reads letters, in upper case.
func (w *wktReader) word() string {
	w.blank()
	from := w.at
	for w.at < len(w.text) && (w.text[w.at]|0x20 >= 'a' && w.text[w.at]|0x20 <= 'z') {
		w.at++
	}
	return strings.ToUpper(w.text[from:w.at])
}

// peek is word without moving.
func (w *wktReader) peek() string {
	at := w.at
	word := w.word()
	w.at = at
	return word
}

func (w *wktReader) feature() error {
	place := fmt.Sprintf("line %d", w.lineNumber())
	if w.peek() == "SRID" {
		if err := w.srid(); err != nil {
			return err
		}
	}
	g, err := w.geometry(false)
	if err != nil {
		return err
	}
	w.take(';') // some programs end or divide shapes with it
	if g == nil {
		w.empty++
		return nil
	}
	return w.add(geojson.Feature{Geometry: g, Place: place})
}

func (w *wktReader) srid() error {
	w.word()
	if err := w.need('='); err != nil {
		return err
	}
	w.blank()
	from := w.at
	for w.at < len(w.text) && w.text[w.at] >= '0' && w.text[w.at] <= '9' {
		w.at++
	}
	if code := w.text[from:w.at]; code != "4326" {
		return fault(geojson.RuleCRS, w.here(), "the coordinates are in SRID "+quote(code)+", not 4326", "export the shapes as WGS 84 longitude and latitude (EPSG:4326)")
	}
	w.info.Datum = wgs84
	return w.need(';')
}

package vector

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	"github.com/peterstace/simplefeatures/geom"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
)

// wkt reads one or more geometries in the well-known text of OGC 06-103r4, one
// after another. EWKT's "SRID=4326;" may precede each.
func (b *builder) wkt(f File) error {
	b.info.Format = "WKT"
	text := string(withoutMark(f.Data))
	if strings.ToValidUTF8(text, "") != text {
		return refuse(geojson.RuleEncoding, "file", "not UTF-8 text", "save the file as UTF-8")
	}
	if f.How.EPSG != 0 {
		if _, err := b.settle(f, nil, "epsg"); err != nil {
			return err
		}
	}
	empty, line := 0, 1
	for shape := ""; ; line += strings.Count(shape, "\n") {
		rest := strings.TrimLeft(text, " \t\r\n;") // some programs end or divide shapes with ";"
		line += strings.Count(text[:len(text)-len(rest)], "\n")
		if rest == "" {
			break
		}
		shape, text = cutShape(rest)
		place := fmt.Sprintf("line %d", line)
		g, err := b.wktShape(f, shape, place)
		if err != nil {
			return err
		}
		if g == nil {
			empty++
		} else if err := b.add(geojson.Feature{Geometry: g, Place: place}); err != nil {
			return err
		}
	}
	b.noteLeftOut(empty, "empty shape", "without coordinates")
	if b.info.Datum == "" {
		b.note("The file does not name its datum; its degrees were taken as WGS 84.")
	}
	return nil
}

var (
	wktStart    = regexp.MustCompile(`(?i)^\s*(SRID\s*=|(POINT|LINESTRING|POLYGON|MULTIPOINT|MULTILINESTRING|MULTIPOLYGON|GEOMETRYCOLLECTION)(Z|M|ZM)?\s*(Z|M|ZM)?\s*(\(|EMPTY))`)
	wktSRID     = regexp.MustCompile(`(?i)^SRID\s*=\s*(\d*)\s*;`)
	wktWord     = regexp.MustCompile(`[A-Z]+`)
	wktPosition = regexp.MustCompile(`[(,]\s*[^\sA-Za-z(),][^(),]*`)
)

// looksLikeWKT distinguishes WKT from a table: it begins with a geometry or an SRID.
func looksLikeWKT(data []byte) bool {
	return wktStart.Match(bytes.TrimSpace(withoutMark(data[:min(len(data), sniffed)])))
}

// cutShape cuts the text after the first shape: after the bracket that closes
// it, or the word EMPTY.
func cutShape(text string) (shape, rest string) {
	depth := 0
	for i := range len(text) {
		switch text[i] {
		case '(':
			depth++
		case ')':
			depth--
		case 'y', 'Y':
			if depth > 0 || !strings.EqualFold(text[max(0, i-4):i+1], "EMPTY") {
				continue
			}
		default:
			continue
		}
		if depth <= 0 {
			return text[:i+1], text[i+1:]
		}
	}
	return text, ""
}

const wktRemedy = "a shape is written like POLYGON ((-105 40, -104.9 40, -104.9 40.1, -105 40))"

// wktShape reads one geometry; nil for an empty one.
func (b *builder) wktShape(f File, text, place string) (orb.Geometry, error) {
	if m := wktSRID.FindStringSubmatch(text); m != nil {
		if err := b.numbered(f, m[1], place); err != nil {
			return nil, err
		}
		text = text[len(m[0]):]
	}
	upper := strings.ToUpper(text)
	switch { // before allocating, and before the library recurses into collections
	case strings.Count(upper, "GEOMETRYCOLLECTION") > 1:
		return nil, refuse(geojson.RuleNesting, place, "a collection inside a collection",
			"put its shapes into the outer one")
	case strings.Count(text, "(") > MaxParts && !strings.Contains(upper, "MULTIPOINT"):
		return nil, refuse(geojson.RuleSize, place, fmt.Sprintf("more than %d rings or lines", MaxParts), "split the file")
	}
	if err := b.room(strings.Count(text, ","), place); err != nil {
		return nil, err
	}
	flat, detail := flatWKT(text)
	if detail != "" {
		return nil, refuse(RuleWKT, place, detail, wktRemedy)
	}
	g, err := geom.UnmarshalWKT(flat, geom.NoValidate{})
	if err != nil {
		return nil, refuse(RuleWKT, place, "not the text of a shape that is known here: "+err.Error(), wktRemedy)
	}
	if converted := fromLibrary(g); converted != nil {
		return b.project(converted, place)
	}
	return nil, nil
}

// numbered takes the system of an SRID, which is a number of the EPSG registry by
// common practice. One file has one.
func (b *builder) numbered(f File, number, place string) error {
	own, err := crs.Stated(number)
	switch {
	case err != nil:
		return within(place, err)
	case b.info.System != "" && !own.Same(b.system):
		return refuse(RuleProjection, place, "the SRID "+quote(number)+" is another than that before it", "split the file")
	case b.info.System != "":
		return nil
	}
	_, err = b.settle(f, &own, place)
	return err
}

// flatWKT drops heights and measures, which come with and without a word that
// says so, and checks numbers, of which the library takes more spellings than
// there are.
func flatWKT(text string) (flat, detail string) {
	flat = wktPosition.ReplaceAllStringFunc(text, func(match string) string {
		fields := strings.Fields(match[1:])
		if n := len(fields); n < 2 || n > 4 {
			detail = fmt.Sprintf("a position of %d numbers: %s", n, quote(match[1:]))
		}
		for i, s := range fields {
			if _, ok := number(s); !ok && (i < 2 || !strings.EqualFold(s, "nan")) {
				detail = quote(s) + " is not a number"
			}
		}
		if detail != "" {
			return ""
		}
		return match[:1] + strings.TrimPrefix(fields[0], "+") + " " + strings.TrimPrefix(fields[1], "+")
	})
	return wktWord.ReplaceAllStringFunc(strings.ToUpper(flat), func(word string) string {
		if word == "E" { // of a number
			return word
		}
		return strings.TrimRight(word, "ZM")
	}), detail
}

// fromLibrary converts a geometry; nil for an empty one.
func fromLibrary(g geom.Geometry) orb.Geometry {
	if g.IsEmpty() {
		return nil
	}
	if all, ok := g.AsGeometryCollection(); ok {
		var list orb.Collection
		for i := range all.NumGeometries() {
			if one := fromLibrary(all.GeometryN(i)); one != nil {
				list = append(list, one)
			}
		}
		return list
	}
	converted, err := wkb.Unmarshal(g.AsBinary())
	if err != nil { // both libraries have the same kinds of shapes
		return nil
	}
	return converted
}

package dxf

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// Shape is one thing to be drawn: a point, line or area, or a text at a point.
type Shape struct {
	Layer    string       // named in the [Drawn]
	Geometry orb.Geometry // orb.Point, orb.MultiLineString or orb.MultiPolygon, in units of the drawing
	Text     string       // not empty: a text that begins at the point
	Height   float64      // of the text
}

// Style is how what lies on a layer looks.
type Style struct {
	Name   string // 31 capital letters, digits, - and _ at most
	Color  int    // of the AutoCAD color index, 1 to 255
	Dashed bool
}

// Drawn is a drawing to be written.
type Drawn struct {
	Styles []Style
	Shapes []Shape
}

var layerName = regexp.MustCompile(`^[A-Z0-9_-]{1,31}$`)

// mostDrawn is how long a text in a drawing is at most: a text has 255 bytes in R12,
// and a character takes seven of them at most.
const mostDrawn = 255

// Write makes a drawing of release R12 in ASCII, which every program of drawing reads.
// Numbers have four decimals. What acts in a text of a drawing, and characters beyond
// ASCII, are written as their codes.
func (d Drawn) Write() ([]byte, error) {
	w := &pairWriter{}
	styled := map[string]bool{}
	for _, s := range d.Styles {
		if !layerName.MatchString(s.Name) || styled[s.Name] || s.Color < 1 || s.Color > 255 {
			return nil, fmt.Errorf("%q is no layer of its own with a color", s.Name)
		}
		styled[s.Name] = true
	}
	box := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for i, s := range d.Shapes {
		if s.Geometry == nil || !styled[s.Layer] {
			return nil, fmt.Errorf("shape %d has no place or no layer", i+1)
		}
		box = box.Union(s.Geometry.Bound())
	}
	if len(d.Shapes) == 0 {
		box = orb.Bound{}
	}
	if !(math.Abs(box.Min[0])+math.Abs(box.Min[1])+math.Abs(box.Max[0])+math.Abs(box.Max[1]) < 1e12) {
		return nil, fmt.Errorf("a shape lies nowhere")
	}
	w.head(box)
	w.tables(d.Styles)
	w.pair(0, "SECTION", 2, "ENTITIES")
	for i, s := range d.Shapes {
		if err := w.shape(s); err != nil {
			return nil, fmt.Errorf("shape %d: %w", i+1, err)
		}
	}
	w.pair(0, "ENDSEC", 0, "EOF")
	return w.Bytes(), nil
}

// pairWriter writes pairs of a group code and its value.
type pairWriter struct{ bytes.Buffer }

func (w *pairWriter) pair(all ...any) {
	for i := 0; i+1 < len(all); i += 2 {
		value := all[i+1]
		if v, ok := value.(float64); ok {
			value = strconv.FormatFloat(v, 'f', 4, 64)
		}
		fmt.Fprintf(w, "%3d\r\n%v\r\n", all[i], value)
	}
}

func (w *pairWriter) at(p orb.Point) { w.pair(10, p[0], 20, p[1], 30, 0.0) }

func (w *pairWriter) head(b orb.Bound) {
	w.pair(0, "SECTION", 2, "HEADER", 9, "$ACADVER", 1, "AC1009")
	w.pair(9, "$EXTMIN", 10, b.Min[0], 20, b.Min[1], 30, 0.0, 9, "$EXTMAX", 10, b.Max[0], 20, b.Max[1], 30, 0.0)
	w.pair(9, "$LUNITS", 70, 2, 9, "$LUPREC", 70, 3) // decimal lengths
	w.pair(9, "$PDMODE", 70, 34, 9, "$PDSIZE", 40, -1.0)
	w.pair(0, "ENDSEC")
}

func (w *pairWriter) tables(all []Style) {
	w.pair(0, "SECTION", 2, "TABLES")
	w.pair(0, "TABLE", 2, "LTYPE", 70, 2)
	w.pair(0, "LTYPE", 2, "CONTINUOUS", 70, 0, 3, "Solid line", 72, 65, 73, 0, 40, 0.0)
	w.pair(0, "LTYPE", 2, "DASHED", 70, 0, 3, "__ __ __", 72, 65, 73, 2, 40, 0.75, 49, 0.5, 49, -0.25)
	w.pair(0, "ENDTAB", 0, "TABLE", 2, "LAYER", 70, len(all)+1)
	w.pair(0, "LAYER", 2, "0", 70, 0, 62, 7, 6, "CONTINUOUS")
	for _, s := range all {
		kind := "CONTINUOUS"
		if s.Dashed {
			kind = "DASHED"
		}
		w.pair(0, "LAYER", 2, s.Name, 70, 0, 62, s.Color, 6, kind)
	}
	w.pair(0, "ENDTAB", 0, "TABLE", 2, "STYLE", 70, 1)
	w.pair(0, "STYLE", 2, "STANDARD", 70, 0, 40, 0.0, 41, 1.0, 50, 0.0, 71, 0, 42, 0.2, 3, "txt", 4, "")
	w.pair(0, "ENDTAB", 0, "ENDSEC")
}

func (w *pairWriter) shape(s Shape) error {
	switch g := s.Geometry.(type) {
	case orb.Point:
		if s.Text == "" {
			w.pair(0, "POINT", 8, s.Layer)
			w.at(g)
			return nil
		}
		w.pair(0, "TEXT", 8, s.Layer)
		w.at(g)
		w.pair(40, s.Height, 1, drawable(s.Text))
	case orb.MultiLineString:
		for _, line := range g {
			w.polyline(s.Layer, line, 0)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			for _, ring := range p {
				w.polyline(s.Layer, ring[:max(0, len(ring)-1)], 1)
			}
		}
	default:
		return fmt.Errorf("a %s is not drawn", g.GeoJSONType())
	}
	return nil
}

// polyline writes a line; closed is 1 for one that comes back to its beginning.
func (w *pairWriter) polyline(layer string, line []orb.Point, closed int) {
	w.pair(0, "POLYLINE", 8, layer, 66, 1)
	w.at(orb.Point{})
	w.pair(70, closed)
	for _, p := range line {
		w.pair(0, "VERTEX", 8, layer)
		w.at(p)
	}
	w.pair(0, "SEQEND", 8, layer)
}

// drawable makes a text one line of ASCII. A percent sign, a caret and a backslash
// begin codes; the codes of R12 for them are used.
func drawable(text string) string {
	var b strings.Builder
	for _, r := range text {
		one := string(r)
		switch {
		case r < ' ' || r == 0x7f:
			one = " "
		case r == '%':
			one = "%%37"
		case r == '^':
			one = "^ "
		case r == '\\':
			one = `\U+005C`
		case r == '°':
			one = "%%d"
		case r == '±':
			one = "%%p"
		case r > 0xffff:
			one = `\U+FFFD`
		case r > '~':
			one = fmt.Sprintf(`\U+%04X`, r)
		}
		if b.Len()+len(one) > mostDrawn {
			break
		}
		b.WriteString(one)
	}
	return b.String()
}

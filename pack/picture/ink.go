package picture

import (
	"image"
	"image/color"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"groundsheet/pack/plan"
)

// reach is how far off the sheet a line may run before it is cut: the
// rasterizer works in floats of 32 bits.
const reach = 20_000

func clamp(v float64) float32 { return float32(min(max(v, -reach), reach)) }

// fill paints a polygon, holes left out by the turn of their rings.
func (s *sheet) fill(polygon orb.Polygon, c color.RGBA) {
	r := vector.NewRasterizer(s.img.Rect.Dx(), s.img.Rect.Dy())
	for _, ring := range polygon {
		path := s.path(orb.LineString(ring))
		for i := 0; i+1 < len(path); i += 2 {
			if i == 0 {
				r.MoveTo(clamp(path[0]), clamp(path[1]))
				continue
			}
			r.LineTo(clamp(path[i]), clamp(path[i+1]))
		}
		r.ClosePath()
	}
	r.Draw(s.img, s.img.Rect, image.NewUniform(c), image.Point{})
}

// line draws a path (x, y, x, y …) as wide as said, with square ends.
func (s *sheet) line(path []float64, width float64, c color.RGBA) {
	r := vector.NewRasterizer(s.img.Rect.Dx(), s.img.Rect.Dy())
	for i := 0; i+3 < len(path); i += 2 {
		x0, y0, x1, y1 := path[i], path[i+1], path[i+2], path[i+3]
		long := math.Hypot(x1-x0, y1-y0)
		if long == 0 {
			continue
		}
		dx, dy := (x1-x0)/long*width/2, (y1-y0)/long*width/2
		r.MoveTo(clamp(x0-dx-dy), clamp(y0-dy+dx))
		r.LineTo(clamp(x1+dx-dy), clamp(y1+dy+dx))
		r.LineTo(clamp(x1+dx+dy), clamp(y1+dy-dx))
		r.LineTo(clamp(x0-dx+dy), clamp(y0-dy-dx))
		r.ClosePath()
	}
	r.Draw(s.img, s.img.Rect, image.NewUniform(c), image.Point{})
}

func (s *sheet) text(x, y int, words string) {
	d := font.Drawer{Dst: s.img, Src: image.NewUniform(ink), Face: basicfont.Face7x13, Dot: fixed.P(x, y)}
	d.DrawString(words)
}

// records draws what is recorded, in the colours of its utility.
func (s *sheet) records(p plan.Plan) {
	for _, o := range p.Overlays {
		colour, casing := hex(o.Kind.Colour), hex(o.Kind.Casing)
		for _, f := range o.Features {
			s.record(f.Geometry, colour, casing)
		}
	}
}

func (s *sheet) record(g orb.Geometry, colour, casing color.RGBA) {
	stroke := func(l orb.LineString) {
		path := s.path(l)
		s.line(path, 6, casing)
		s.line(path, 3, colour)
	}
	switch g := g.(type) {
	case orb.Point:
		x, y := s.place(g)
		s.box(x-4, y-4, x+4, y+4, casing)
		s.box(x-3, y-3, x+3, y+3, colour)
	case orb.MultiPoint:
		for _, p := range g {
			s.record(p, colour, casing)
		}
	case orb.LineString:
		stroke(g)
	case orb.MultiLineString:
		for _, l := range g {
			stroke(l)
		}
	case orb.Polygon:
		for _, ring := range g {
			stroke(orb.LineString(ring))
		}
	case orb.MultiPolygon:
		for _, polygon := range g {
			s.record(polygon, colour, casing)
		}
	case orb.Collection:
		for _, part := range g {
			s.record(part, colour, casing)
		}
	}
}

// hex reads "#RRGGBB"; the table of utilities holds nothing else.
func hex(s string) color.RGBA {
	v, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return ink
	}
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}

package plainmap

import (
	"image"
	"image/draw"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/tiles"
	"groundsheet/tiles/paint"
	"groundsheet/tiles/source"
)

// view is a rectangle of pixels of the world at a scale.
type view struct {
	scale     float64 // pixels of the world square's side
	left, top float64 // pixels from its north-west corner
	w, h      int
}

// density is how many pixels of a tile a pixel of the looks is. A phone shows a pixel of
// a tile as one of its own small ones: names drawn for a desk's screen could not be read.
const density = 2

// zoom is the zoom at which tiles of 256 pixels have the scale, as the looks count it.
func (v view) zoom() float64 { return math.Log2(v.scale / 256 / density) }

// at is the pixel of a place.
func (v view) at(p orb.Point) orb.Point {
	return orb.Point{p[0]*v.scale - v.left, p[1]*v.scale - v.top}
}

// bound is the ground of the view, grown by some pixels.
func (v view) bound(more float64) orb.Bound {
	return orb.Bound{
		Min: orb.Point{(v.left - more) / v.scale, (v.top - more) / v.scale},
		Max: orb.Point{(v.left + float64(v.w) + more) / v.scale, (v.top + float64(v.h) + more) / v.scale},
	}
}

// rim is how many pixels around a tile are drawn with it and cut off: halos and edges
// reach over from there.
const rim = 16

// viewOf is the view of a square of n×n tiles.
func viewOf(t tiles.ID, n, side int) view {
	return view{math.Ldexp(float64(side), int(t.Z)), float64(t.X) * float64(side), float64(t.Y) * float64(side), n * side, n * side}
}

// Draw paints a tile of side×side pixels, with the names that were placed for the
// block around it; nil leaves them out.
func (m *Map) Draw(t tiles.ID, side int, names *Names) *image.RGBA {
	v := viewOf(t, 1, side)
	whole := m.paint(view{v.scale, v.left - rim, v.top - rim, side + 2*rim, side + 2*rim}, names)
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	draw.Draw(out, out.Rect, whole, image.Pt(rim, rim), draw.Src)
	return out
}

func (m *Map) paint(v view, names *Names) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, v.w, v.h))
	draw.Draw(img, img.Rect, image.NewUniform(rgba(Paper)), image.Point{}, draw.Src)
	p := painter{view: v, Canvas: paint.On(img), clip: v.bound(40)}
	by := map[source.Role][]*item{}
	for _, it := range m.within(v.bound(40)) {
		by[it.role] = append(by[it.role], it)
	}
	for _, look := range looks() {
		if p.zoom() >= look.From && len(by[look.Role]) > 0 {
			p.edges(look, by[look.Role])
			if !isWay(look.Role) {
				p.fills(look, by[look.Role])
			}
		}
		if look.Role == source.RoleMainStreet { // the edges of all ways lie below: junctions are open
			for _, way := range looks() {
				if isWay(way.Role) && p.zoom() >= way.From {
					p.fills(way, by[way.Role])
				}
			}
		}
	}
	if names != nil {
		names.paint(p.Canvas, v)
	}
	return img
}

func isWay(r source.Role) bool {
	return r == source.RolePath || r == source.RoleStreet || r == source.RoleMainStreet
}

// painter paints the shapes of one view.
type painter struct {
	view
	*paint.Canvas
	clip orb.Bound
}

// edges paints what lies under the fills of a role: the insides of areas with their
// outlines, and what shows beside lines.
func (p painter) edges(look Look, items []*item) {
	width := density * look.width(p.zoom())
	if look.Fill != "" {
		for _, it := range items {
			if g, is := it.part.(orb.Polygon); is {
				p.inside(g)
			}
		}
		p.Flush(rgba(look.Fill))
	}
	if look.Edge == "" {
		return
	}
	edge := 1.0 * density // beside a line, in pixels
	if width < 2*density {
		edge = 0.4 * density
	}
	for _, it := range items {
		switch g := it.part.(type) {
		case orb.Polygon:
			for _, ring := range g {
				p.line(orb.LineString(ring), min(width, 1.4*density), 0)
			}
		case orb.LineString:
			if look.Fill == "" {
				p.line(g, width, density*look.Dash)
			} else if look.Role != source.RoleRail && look.Role != source.RoleWater && look.Role != source.RoleGreen {
				p.line(g, width+2*edge, 0)
			}
		}
	}
	p.Flush(rgba(look.Edge))
}

// fills paints lines, and the dots of points.
func (p painter) fills(look Look, items []*item) {
	width, fill := density*look.width(p.zoom()), look.Fill
	if look.Role == source.RoleWater {
		fill = look.Edge // a stream is darker than a lake, or it would be lost
	}
	if fill == "" {
		return
	}
	for _, it := range items {
		switch g := it.part.(type) {
		case orb.LineString:
			dash := density * look.Dash
			if look.Role == source.RoleRail {
				dash = 0
			}
			p.line(g, width, dash)
		case orb.Point:
			if look.Role == source.RoleAddress { // others carry a name
				p.Dot(p.at(g), width)
			}
		}
	}
	p.Flush(rgba(fill))
	if look.Role != source.RoleRail || width < 2*density {
		return
	}
	for _, it := range items {
		if g, is := it.part.(orb.LineString); is {
			p.line(g, width-1.6*density, density*look.Dash)
		}
	}
	p.Flush(rgba(look.Edge))
}

// inside adds the inside of a polygon, cut to the view.
func (p painter) inside(g orb.Polygon) {
	for _, ring := range g {
		var pixels []orb.Point
		for _, at := range p.cut(ring) {
			pixels = append(pixels, p.at(at))
		}
		p.Ring(pixels)
	}
}

func (p painter) cut(ring orb.Ring) orb.Ring {
	if b := ring.Bound(); p.clip.Contains(b.Min) && p.clip.Contains(b.Max) {
		return ring
	}
	return clip.Ring(p.clip, append(orb.Ring(nil), ring...))
}

// line adds a line where it is near the view. Dashes are counted from its beginning,
// so that they join between tiles.
func (p painter) line(l orb.LineString, width, dash float64) {
	var run []orb.Point
	from, done := 0.0, 0.0 // of the run, and of the line so far, in pixels
	end := func() {
		if dash == 0 {
			p.Line(run, width)
		} else {
			for _, piece := range paint.Dashes(run, from, dash, dash) {
				p.Line(piece, min(width, 2)) // without round ends
			}
		}
		run = nil
	}
	b := p.at(l[0])
	for i := 1; i < len(l); i++ {
		a, next := b, p.at(l[i])
		long := math.Hypot(next[0]-a[0], next[1]-a[1])
		if long < smallest && i < len(l)-1 {
			continue
		}
		b = next
		t0, t1, in := p.crossing(a, b)
		if !in {
			end()
			done += long
			continue
		}
		if len(run) == 0 || t0 > 0 {
			end()
			run, from = []orb.Point{mix(a, b, t0)}, done+t0*long
		}
		run = append(run, mix(a, b, t1))
		if done += long; t1 < 1 {
			end()
		}
	}
	end()
}

// smallest is how long a straight piece has to be to be drawn, in pixels.
const smallest = 0.3

// crossing is the part of a straight piece that is in the view or near it, as
// fractions of its length.
func (p painter) crossing(a, b orb.Point) (t0, t1 float64, in bool) {
	const margin = 40
	t0, t1 = 0, 1
	for axis, size := range [2]int{p.w, p.h} {
		from, d := a[axis], b[axis]-a[axis]
		low, high := -float64(margin), float64(size+margin)
		if d == 0 {
			if from < low || from > high {
				return 0, 0, false
			}
			continue
		}
		u, v := (low-from)/d, (high-from)/d
		t0, t1 = max(t0, min(u, v)), min(t1, max(u, v))
	}
	return t0, t1, t0 < t1
}

func mix(a, b orb.Point, t float64) orb.Point {
	switch t {
	case 0:
		return a
	case 1:
		return b
	}
	return orb.Point{a[0] + (b[0]-a[0])*t, a[1] + (b[1]-a[1])*t}
}

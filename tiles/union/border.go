package union

import (
	"errors"
	"slices"

	"github.com/paulmach/orb"
)

var errTorn = errors.New("the border of the union does not close")

// border returns the polygons of the inside, without rings that touch
// themselves.
func (p *arrangement) border() (orb.MultiPolygon, error) {
	done := make([]bool, len(p.out))
	grounds := map[int32]int{} // ground → its polygon
	var polygons []orb.Polygon
	var holes [][]orb.Ring
	for first := range p.out {
		e := int32(first)
		if done[e] || !p.borders(e) {
			continue
		}
		ground := p.find(p.loop[e])
		n, known := grounds[ground]
		if !known {
			n = len(polygons)
			grounds[ground], polygons, holes = n, append(polygons, nil), append(holes, nil)
		}
		for _, ring := range splitTouching(p.walk(e, done)) {
			switch area := doubleArea(ring); {
			case area > 0 && polygons[n] != nil:
				return nil, errTorn
			case area > 0:
				polygons[n] = orb.Polygon{degrees(ring)}
			case area < 0:
				holes[n] = append(holes[n], degrees(ring))
			}
		}
	}
	var out orb.MultiPolygon
	for n, polygon := range polygons {
		if polygon == nil {
			return nil, errTorn
		}
		out = append(out, append(polygon, holes[n]...))
	}
	return out, nil
}

// borders reports whether an edge has the inside on its left and the outside on
// its right.
func (p *arrangement) borders(edge int32) bool { return p.inside(edge) && !p.inside(edge^1) }

// walk goes along a border once round, with the inside on the left.
func (p *arrangement) walk(first int32, done []bool) (ring []point) {
	for e := first; !done[e]; {
		done[e] = true
		ring = append(ring, p.places[p.tail(e)])
		for e = p.before(e ^ 1); !p.borders(e); {
			e = p.before(e) // through the inside to the next border
		}
	}
	return ring
}

// splitTouching takes a way that comes by a place again into rings that do not.
func splitTouching(way []point) (rings [][]point) {
	at := make(map[point]int, len(way))
	var open []point
	for _, p := range way {
		if i, again := at[p]; again {
			rings = append(rings, dropCollinear(slices.Clone(open[i:])))
			for _, q := range open[i:] {
				delete(at, q)
			}
			open = open[:i]
		}
		at[p] = len(open)
		open = append(open, p)
	}
	return append(rings, dropCollinear(open))
}

// dropCollinear leaves out places on the dropCollinear way between their neighbors.
func dropCollinear(ring []point) []point {
	out := make([]point, 0, len(ring))
	for i, p := range ring {
		before := ring[(i+len(ring)-1)%len(ring)]
		if len(out) > 0 {
			before = out[len(out)-1]
		}
		if side(before, p, ring[(i+1)%len(ring)]) != 0 {
			out = append(out, p)
		}
	}
	return out
}

// doubleArea is doubleArea the area of a ring in units, positive when it runs
// counter-clockwise.
func doubleArea(ring []point) (area float64) {
	for i := 2; i < len(ring); i++ {
		o, a, b := ring[0], ring[i-1], ring[i]
		area += float64(a.x-o.x)*float64(b.y-o.y) - float64(b.x-o.x)*float64(a.y-o.y)
	}
	return area
}

func degrees(ring []point) orb.Ring {
	out := make(orb.Ring, 0, len(ring)+1)
	for _, p := range ring {
		out = append(out, p.degrees())
	}
	return append(out, out[0])
}

package area

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// side is one edge of a polygon in degrees.
type side struct {
	p, q        orb.Point
	ring, index int
	of          int // edges in its ring
}

// meeting finds a place where two edges of a polygon meet that should not:
// edges of one ring when same is set, else edges of different rings. It is
// asked only when the polygon is known not to be valid; ok is false, and the
// place the first position, when there is none.
func meeting(polygon orb.Polygon, same bool) (p orb.Point, ok bool) {
	all := sides(polygon)
	west := func(s side) float64 { return min(s.p[0], s.q[0]) }
	slices.SortFunc(all, func(a, b side) int { return cmp.Compare(west(a), west(b)) })
	for i, a := range all {
		east := max(a.p[0], a.q[0])
		for _, b := range all[i+1:] {
			if west(b) > east {
				break
			}
			if same != (a.ring == b.ring) {
				continue
			}
			if p, ok := meet(a, b); ok {
				return p, true
			}
		}
	}
	return polygon[0][0], false
}

// sides lists the edges; repeated positions make none.
func sides(polygon orb.Polygon) []side {
	var all []side
	for r, ring := range polygon {
		from := len(all)
		for i := 1; i < len(ring); i++ {
			if ring[i-1] != ring[i] {
				all = append(all, side{p: ring[i-1], q: ring[i], ring: r, index: len(all) - from})
			}
		}
		for i := range all[from:] {
			all[from+i].of = len(all) - from
		}
	}
	return all
}

// meet is where two edges meet. Neighbours in a ring share a position; they
// meet only when they fold back onto each other.
func meet(a, b side) (orb.Point, bool) {
	if a.ring == b.ring {
		switch {
		case (a.index+1)%a.of == b.index:
			return a.q, folds(a.p, a.q, b.q)
		case (b.index+1)%b.of == a.index:
			return b.q, folds(b.p, b.q, a.q)
		}
	}
	c0, c1 := cross(a.p, a.q, b.p), cross(a.p, a.q, b.q)
	d0, d1 := cross(b.p, b.q, a.p), cross(b.p, b.q, a.q)
	if c0 == 0 && within(a, b.p) {
		return b.p, true
	}
	if c1 == 0 && within(a, b.q) {
		return b.q, true
	}
	if d0 == 0 && within(b, a.p) {
		return a.p, true
	}
	if math.Signbit(c0) == math.Signbit(c1) || math.Signbit(d0) == math.Signbit(d1) || c0 == c1 {
		return orb.Point{}, false
	}
	t := c0 / (c0 - c1)
	return orb.Point{b.p[0] + t*(b.q[0]-b.p[0]), b.p[1] + t*(b.q[1]-b.p[1])}, true
}

func cross(a, b, p orb.Point) float64 {
	return (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])
}

// within reports whether a place on the line through s lies between its ends.
func within(s side, p orb.Point) bool {
	return p[0] >= min(s.p[0], s.q[0]) && p[0] <= max(s.p[0], s.q[0]) &&
		p[1] >= min(s.p[1], s.q[1]) && p[1] <= max(s.p[1], s.q[1])
}

// folds reports whether the way a to b to c turns back on itself.
func folds(a, b, c orb.Point) bool {
	return cross(a, b, c) == 0 && (b[0]-a[0])*(c[0]-b[0])+(b[1]-a[1])*(c[1]-b[1]) < 0
}

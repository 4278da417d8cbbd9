package area

import (
	"cmp"
	"iter"
	"math"
	"math/big"
	"slices"

	"github.com/paulmach/orb"
)

// ringEdge is one edge of a polygon in degrees.
type ringEdge struct {
	p, q        orb.Point
	ring, index int
	of          int // edges in its ring
}

// next reports whether b goes on where a ends, in the same ring.
func (a ringEdge) next(b ringEdge) bool { return a.ring == b.ring && (a.index+1)%a.of == b.index }

// ringCrossing finds a place where edges of different rings of a polygon meet. Call it
// only for an invalid polygon; without a crossing it returns the first
// position.
func ringCrossing(polygon orb.Polygon) orb.Point {
	for a, b := range candidatePairs(sides(polygon)) {
		if a.ring == b.ring {
			continue
		}
		if p, ok := meet(a, b); ok {
			return p
		}
	}
	return polygon[0][0]
}

// candidatePairs yields the pairs of edges that may meet, each pair once.
func candidatePairs(all []ringEdge) iter.Seq2[ringEdge, ringEdge] {
	west := func(s ringEdge) float64 { return min(s.p[0], s.q[0]) }
	all = slices.SortedFunc(slices.Values(all), func(a, b ringEdge) int { return cmp.Compare(west(a), west(b)) })
	return func(yield func(a, b ringEdge) bool) {
		for i, a := range all {
			east := max(a.p[0], a.q[0])
			for _, b := range all[i+1:] {
				if west(b) > east {
					break
				}
				if !yield(a, b) {
					return
				}
			}
		}
	}
}

// sides lists the edges; repeated positions make none.
func sides(polygon orb.Polygon) []ringEdge {
	var all []ringEdge
	for r, ring := range polygon {
		from := len(all)
		for i := 1; i < len(ring); i++ {
			if ring[i-1] != ring[i] {
				all = append(all, ringEdge{p: ring[i-1], q: ring[i], ring: r, index: len(all) - from})
			}
		}
		for i := range all[from:] {
			all[from+i].of = len(all) - from
		}
	}
	return all
}

// meet is where two edges meet. Neighbors in a ring share a position; they
// meet only when they fold back onto each other.
func meet(a, b ringEdge) (orb.Point, bool) {
	switch {
	case a.next(b):
		return a.q, folds(a.p, a.q, b.q)
	case b.next(a):
		return b.q, folds(b.p, b.q, a.q)
	}
	p, how := touch(a, b)
	return p, how != apartFrom
}

// How two edges that are not neighbors in their ring meet.
const (
	apartFrom = iota // not at all
	touching         // an end of one lies on the other
	crossing         // they cross, or share more than a place
)

// touch computes how two edges meet (exactly) and where (approximately).
func touch(a, b ringEdge) (p orb.Point, how int) {
	c0, c1 := turn(a.p, a.q, b.p), turn(a.p, a.q, b.q)
	d0, d1 := turn(b.p, b.q, a.p), turn(b.p, b.q, a.q)
	if c0*c1 > 0 || d0*d1 > 0 {
		return p, apartFrom
	}
	if c0*c1 < 0 && d0*d1 < 0 {
		return crossingOf(a, b), crossing
	}
	ends := 0
	for _, end := range []struct {
		p    orb.Point
		turn int
		on   ringEdge
	}{{b.p, c0, a}, {b.q, c1, a}, {a.p, d0, b}, {a.q, d1, b}} {
		if end.turn == 0 && within(end.on, end.p) && (ends == 0 || end.p != p) {
			p, ends = end.p, ends+1
		}
	}
	return p, min(ends, crossing)
}

// crossingOf is where two edges cross that do.
func crossingOf(a, b ringEdge) orb.Point {
	c0, c1 := cross(a.p, a.q, b.p), cross(a.p, a.q, b.q)
	if c0 == c1 {
		return b.p
	}
	t := min(max(c0/(c0-c1), 0), 1)
	return orb.Point{b.p[0] + t*(b.q[0]-b.p[0]), b.p[1] + t*(b.q[1]-b.p[1])}
}

func cross(a, b, p orb.Point) float64 {
	return (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])
}

// turn is the sign of the turn from a over b to p: 1 to the left, -1 to the
// right, 0 for places exactly on one line. The bound is that of J. R. Shewchuk,
// Adaptive Precision Floating-Point Arithmetic (1997), ccwerrboundA.
func turn(a, b, p orb.Point) int {
	const bound = (3 + 16*0x1p-53) * 0x1p-53
	left, right := (b[0]-a[0])*(p[1]-a[1]), (b[1]-a[1])*(p[0]-a[0])
	if d := left - right; math.Abs(d) > bound*(math.Abs(left)+math.Abs(right)) {
		return int(math.Copysign(1, d))
	}
	times := func(a, b, c, d float64) *big.Rat {
		x, y := new(big.Rat).SetFloat64(a), new(big.Rat).SetFloat64(c)
		x.Sub(x, new(big.Rat).SetFloat64(b))
		return x.Mul(x, y.Sub(y, new(big.Rat).SetFloat64(d)))
	}
	return times(b[0], a[0], p[1], a[1]).Cmp(times(b[1], a[1], p[0], a[0]))
}

// within reports whether a place on the line through s lies between its ends.
func within(s ringEdge, p orb.Point) bool {
	return p[0] >= min(s.p[0], s.q[0]) && p[0] <= max(s.p[0], s.q[0]) &&
		p[1] >= min(s.p[1], s.q[1]) && p[1] <= max(s.p[1], s.q[1])
}

// folds reports whether the way a to b to c turns back on itself.
func folds(a, b, c orb.Point) bool {
	return turn(a, b, c) == 0 && (b[0]-a[0])*(c[0]-b[0])+(b[1]-a[1])*(c[1]-b[1]) < 0
}

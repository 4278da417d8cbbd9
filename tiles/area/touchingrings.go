package area

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/peterstace/simplefeatures/geom"
)

// splitTouching takes a polygon whose rings touch themselves at single places, which is
// common in real data, and returns the same ground as polygons whose rings do
// not. Call it only for an invalid polygon. A ring that
// crosses or runs along itself, and parts that are not valid, are faults.
func splitTouching(polygon orb.Polygon, place string) (parts orb.MultiPolygon, err error) {
	var holes []orb.Ring
	for i, ring := range polygon {
		ring, at, ok := withTouches(ring)
		if !ok {
			return nil, refuse(RuleSelfCrossing, near(fmt.Sprintf("%s, ring %d", place, i+1), at),
				"the outline crosses itself or runs along itself",
				"draw it again so that no two edges cross")
		}
		whole := planar.Area(ring) > 0
		for _, loop := range loops(ring) {
			// The ground is on one side all along a ring that does not cross
			// itself, so loops that turn the other way have it outside.
			if same := planar.Area(loop) > 0 == whole; same == (i == 0) {
				parts = append(parts, orb.Polygon{loop})
			} else {
				holes = append(holes, loop)
			}
		}
	}
	for _, hole := range holes {
		i := shellOf(parts, hole)
		parts[i] = append(parts[i], hole)
	}
	return parts, checkParts(parts, place)
}

// checkParts asks the library about each polygon, and that they share no ground.
func checkParts(parts orb.MultiPolygon, place string) error {
	polygons := make([]geom.Polygon, len(parts))
	for i, p := range parts {
		polygons[i] = asPolygon(p)
		if err := validate(p); err != nil {
			return violation(err, p, place)
		}
	}
	if err := geom.NewMultiPolygon(polygons).Validate(); err != nil {
		return violation(err, parts[0], place)
	}
	return nil
}

// withTouches gives the ring without repeated positions, and with a position on
// each edge where another position of the ring lies. ok is false, and at the
// place, where the ring crosses or runs along itself.
func withTouches(ring orb.Ring) (out orb.Ring, at orb.Point, ok bool) {
	all := sides(orb.Polygon{ring})
	on := make([][]orb.Point, len(all)) // by edge, the positions that lie on it
	for a, b := range candidatePairs(all) {
		if a.next(b) || b.next(a) {
			if p, back := meet(a, b); back {
				return nil, p, false
			}
			continue
		}
		p, how := touch(a, b)
		switch {
		case how == crossing:
			return nil, p, false
		case how == touching && p != a.p && p != a.q:
			on[a.index] = append(on[a.index], p)
		case how == touching && p != b.p && p != b.q:
			on[b.index] = append(on[b.index], p)
		}
	}
	for i, s := range all {
		out = append(out, s.p)
		out = append(out, s.along(on[i])...)
	}
	out = append(out, out[0])
	at, crossed := crossedAt(out)
	return out, at, !crossed
}

// along puts places on an edge in order, each once.
func (a ringEdge) along(places []orb.Point) []orb.Point {
	far := func(p orb.Point) float64 { return math.Abs(p[0]-a.p[0]) + math.Abs(p[1]-a.p[1]) }
	slices.SortFunc(places, func(a, b orb.Point) int { return cmp.Compare(far(a), far(b)) })
	return slices.Compact(places)
}

// crossedAt finds a place a ring passes more than once, whose passes cross.
func crossedAt(ring orb.Ring) (orb.Point, bool) {
	type pass struct{ from, to orb.Point }
	passes := map[orb.Point][]pass{}
	n := len(ring) - 1
	for i, p := range ring[:n] {
		now := pass{ring[(i+n-1)%n], ring[i+1]}
		for _, before := range passes[p] {
			if inAngle(p, before.from, before.to, now.from) != inAngle(p, before.from, before.to, now.to) {
				return p, true
			}
		}
		passes[p] = append(passes[p], now)
	}
	return orb.Point{}, false
}

// inAngle reports whether the way from p to q lies in the angle at p that is
// swept counter-clockwise from a to b.
func inAngle(p, a, b, q orb.Point) bool {
	fromA, toB := turn(p, a, q) >= 0, turn(p, q, b) >= 0
	if turn(p, a, b) >= 0 {
		return fromA && toB
	}
	return fromA || toB
}

// loops cuts a ring at the places it passes more than once.
func loops(ring orb.Ring) (all []orb.Ring) {
	var way orb.Ring
	at := map[orb.Point]int{} // where a place is on the way
	for _, p := range ring {
		from, again := at[p]
		if again {
			loop := append(orb.Ring(nil), way[from:]...)
			all = append(all, append(loop, p))
			for _, q := range way[from+1:] {
				delete(at, q)
			}
			way = way[:from]
		}
		at[p] = len(way)
		way = append(way, p)
	}
	return all
}

// shellOf is the smallest polygon round a hole; if there is none, the first.
func shellOf(parts orb.MultiPolygon, hole orb.Ring) int {
	best, least := 0, math.Inf(1)
	for i, part := range parts {
		outside := func(p orb.Point) bool { return !planar.RingContains(part[0], p) }
		if size := math.Abs(planar.Area(part[0])); size < least && !slices.ContainsFunc(hole, outside) {
			best, least = i, size
		}
	}
	return best
}

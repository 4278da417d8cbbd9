package derive

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/union"
)

// Zone is the tolerance zone round a line: half of its width plus the distance
// each side, on the ground. It is a planning aid: the legal zone is measured
// from the marks. Where the size is not recorded the zone is from the center
// line alone, which SizeKnown says.
type Zone struct {
	Line         string           `json:"line"` // ID of [Line]
	Utility      string           `json:"utility"`
	HalfWidthM   float64          `json:"half_width_m"`
	EachSideM    float64          `json:"each_side_m"`
	ReachM       float64          `json:"reach_m"` // from the center line: the sum of the two
	SizeKnown    bool             `json:"size_known"`
	UncertaintyM *float64         `json:"uncertainty_m"`       // the record's own, horizontal; nil = not stated
	Shape        orb.MultiPolygon `json:"shape,omitempty"`     // GeoJSON coordinates
	Uncertain    orb.MultiPolygon `json:"uncertain,omitempty"` // the same with the record's uncertainty added; shown apart

	roundAll bool // the line is tangled, so that the zone is round all of it
}

// newZone makes the zone of a line, each side in meters.
func newZone(l Line, eachSide float64, uncertainty bool) Zone {
	z := Zone{Line: l.ID, Utility: l.Utility, EachSideM: eachSide, ReachM: eachSide, UncertaintyM: l.AccuracyM}
	if l.HalfWidthM != nil {
		z.HalfWidthM, z.SizeKnown = *l.HalfWidthM, true
		z.ReachM += z.HalfWidthM
	}
	shape := around
	if tangled(l.Path) {
		z.roundAll, shape = true, aroundAll
	}
	z.Shape = shape(l.Path, z.ReachM)
	if uncertainty && l.AccuracyM != nil && *l.AccuracyM > 0 {
		z.Uncertain = shape(l.Path, z.ReachM+*l.AccuracyM)
	}
	return z
}

// turns is the number of edges of a round end. They lie outside the circle, so
// that the zone is never smaller than stated; 0.5 % larger at most.
const turns = 16

// around is the ground within reach meters of a line, round at its ends, with
// true sides on the ellipsoid; at slight bends the corner sticks out by 1 % at
// most. Where the parts cannot be joined they overlap.
func around(line orb.LineString, reach float64) orb.MultiPolygon {
	line = slices.Compact(slices.Clone(line))
	if !(reach > 0) || len(line) == 0 {
		return nil
	}
	if len(line) == 1 {
		line = append(line, line[0])
	}
	var parts orb.MultiPolygon
	for len(line) > 1 {
		n := together(line, reach)
		parts = append(parts, orb.Polygon{band(line[:n], reach)})
		line = line[n-1:]
	}
	whole, err := union.Of(parts)
	if err != nil {
		return parts
	}
	return whole
}

// Limits of a band: within them its ring cannot cross itself.
const (
	slightBend = 15 * math.Pi / 180 // from one edge to the next
	mostBend   = 80 * math.Pi / 180 // from the first edge to any
	mostBand   = 2_000              // meters, within which one frame is good for the sides
)

// together is the number of positions that one band can follow, at least two.
func together(line orb.LineString, reach float64) int {
	f := geodesic.At(line[0])
	step := func(i int) (angle, long float64) {
		p, q := f.Meters(line[i-1]), f.Meters(line[i])
		return math.Atan2(q[1]-p[1], q[0]-p[0]), math.Hypot(q[0]-p[0], q[1]-p[1])
	}
	first, long := step(1)
	before, sum := first, long
	n := 2
	for ; n < len(line) && long >= reach/2; n++ {
		var angle float64
		angle, long = step(n)
		sum += long
		bend := func(from float64) float64 { return math.Abs(math.Remainder(angle-from, 2*math.Pi)) }
		if bend(before) > slightBend || bend(first) > mostBend || long < reach/2 || sum > mostBand {
			break
		}
		before = angle
	}
	return n
}

// band is the ring round a line of slight bends: out along its right side, a
// round end, back along its left, a round end.
func band(line orb.LineString, reach float64) orb.Ring {
	f := geodesic.At(line[len(line)/2])
	flat := make([]orb.Point, len(line))
	for i, p := range line {
		flat[i] = f.Meters(p)
	}
	edge := func(i int) float64 { return math.Atan2(flat[i][1]-flat[i-1][1], flat[i][0]-flat[i-1][0]) }
	var ring orb.Ring
	corner := func(p orb.Point, angle, r float64) {
		ring = append(ring, f.Degrees(orb.Point{p[0] + r*math.Cos(angle), p[1] + r*math.Sin(angle)}))
	}
	bend := func(i int, side float64) {
		turn := math.Remainder(edge(i+1)-edge(i), 2*math.Pi)
		corner(flat[i], edge(i)+turn/2+side, reach/math.Cos(turn/2))
	}
	last := len(flat) - 1
	for i := 1; i < last; i++ {
		bend(i, -math.Pi/2)
	}
	roundEnd(flat[last], edge(last)-math.Pi/2, reach, corner)
	for i := last - 1; i > 0; i-- {
		bend(i, math.Pi/2)
	}
	roundEnd(flat[0], edge(1)+math.Pi/2, reach, corner)
	return append(ring, ring[0])
}

// roundEnd goes half round a place, counter-clockwise from an angle.
func roundEnd(p orb.Point, from, reach float64, corner func(orb.Point, float64, float64)) {
	corner(p, from, reach)
	for i := range turns {
		corner(p, from+(float64(i)+0.5)*math.Pi/turns, reach/math.Cos(math.Pi/turns/2))
	}
	corner(p, from+math.Pi, reach)
}

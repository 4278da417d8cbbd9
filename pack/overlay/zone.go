package overlay

import (
	"errors"
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"

	"groundsheet/tiles/geodesic"
)

// Zone is the tolerance zone round a line: half of its width plus the distance
// each side, on the ground. It is a planning aid: the legal zone is measured
// from the marks. Where the size is not recorded the zone is from the centre
// line alone, which SizeKnown says.
type Zone struct {
	Line         string           `json:"line"` // ID of [Line]
	Utility      string           `json:"utility"`
	HalfWidthM   float64          `json:"half_width_m"`
	EachSideM    float64          `json:"each_side_m"`
	ReachM       float64          `json:"reach_m"` // from the centre line: the sum of the two
	SizeKnown    bool             `json:"size_known"`
	UncertaintyM *float64         `json:"uncertainty_m"` // the record's own, horizontal; nil = not stated
	Shape        orb.MultiPolygon `json:"shape"`         // GeoJSON coordinates
	Uncertain    orb.MultiPolygon `json:"uncertain"`     // the same with the record's uncertainty added; shown apart
}

// ZoneOf makes the zone of a line, each side in metres.
func ZoneOf(l Line, eachSide float64, uncertainty bool) Zone {
	z := Zone{Line: l.ID, Utility: l.Utility, EachSideM: eachSide, ReachM: eachSide, UncertaintyM: l.AccuracyM}
	if l.HalfWidthM != nil {
		z.HalfWidthM, z.SizeKnown = *l.HalfWidthM, true
		z.ReachM += z.HalfWidthM
	}
	z.Shape = Around(l.Path, z.ReachM)
	if uncertainty && l.AccuracyM != nil && *l.AccuracyM > 0 {
		z.Uncertain = Around(l.Path, z.ReachM+*l.AccuracyM)
	}
	return z
}

// turns is the number of edges of a round end. They lie outside the circle, so
// that the zone is never smaller than stated; 0.5 % larger at most.
const turns = 16

// Around is the ground within reach metres of a line, round at its ends, with
// true sides on the ellipsoid. Where the parts cannot be joined they overlap.
func Around(line orb.LineString, reach float64) orb.MultiPolygon {
	if !(reach > 0) {
		return nil
	}
	var parts orb.MultiPolygon
	for i := 1; i < len(line); i++ {
		if line[i-1] != line[i] {
			parts = append(parts, orb.Polygon{capsule(line[i-1], line[i], reach)})
		}
	}
	if len(parts) == 0 && len(line) > 0 {
		parts = orb.MultiPolygon{{capsule(line[0], line[0], reach)}}
	}
	whole, err := unite(parts)
	if err != nil {
		return parts
	}
	return whole
}

// capsule is the ring round an edge, in the frame of its middle.
func capsule(a, b orb.Point, reach float64) orb.Ring {
	f := geodesic.At(orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2})
	p, q := f.Metres(a), f.Metres(b)
	along := math.Atan2(q[1]-p[1], q[0]-p[0])
	ring := orb.Ring{}
	for _, end := range []struct {
		at   orb.Point
		from float64
	}{{q, along - math.Pi/2}, {p, along + math.Pi/2}} {
		corner := func(angle, r float64) {
			ring = append(ring, f.Degrees(orb.Point{end.at[0] + r*math.Cos(angle), end.at[1] + r*math.Sin(angle)}))
		}
		corner(end.from, reach)
		for i := range turns {
			corner(end.from+(float64(i)+0.5)*math.Pi/turns, reach/math.Cos(math.Pi/turns/2))
		}
		corner(end.from+math.Pi, reach)
	}
	return append(ring, ring[0])
}

// errLost guards against a union that is smaller than what went into it.
var errLost = errors.New("the union lost a part")

// unite joins polygons by halves; only unions of two are asked of the library
// (as in package area: its union of many has lost shapes).
func unite(parts orb.MultiPolygon) (orb.MultiPolygon, error) {
	g, err := uniteHalves(parts)
	if err != nil {
		return nil, err
	}
	var all orb.MultiPolygon
	for _, one := range g.ForceCCW().Dump() {
		polygon, ok := one.AsPolygon()
		if !ok || polygon.IsEmpty() {
			continue
		}
		var rings orb.Polygon
		for _, line := range polygon.DumpRings() {
			points := line.Coordinates()
			ring := make(orb.Ring, points.Length())
			for i := range ring {
				at := points.GetXY(i)
				ring[i] = orb.Point{at.X, at.Y}
			}
			rings = append(rings, ring)
		}
		all = append(all, rings)
	}
	return all, nil
}

func uniteHalves(parts orb.MultiPolygon) (geom.Geometry, error) {
	if len(parts) == 1 {
		xy := make([]float64, 0, 2*len(parts[0][0]))
		for _, p := range parts[0][0] {
			xy = append(xy, p[0], p[1])
		}
		return geom.NewPolygon([]geom.LineString{geom.NewLineString(geom.NewSequence(xy, geom.DimXY))}).AsGeometry(), nil
	}
	a, err := uniteHalves(parts[:len(parts)/2])
	if err != nil {
		return a, err
	}
	b, err := uniteHalves(parts[len(parts)/2:])
	if err != nil {
		return b, err
	}
	both, err := geom.Union(a, b)
	if err == nil && both.Area() < max(a.Area(), b.Area())*(1-1e-6) {
		err = errLost
	}
	return both, err
}

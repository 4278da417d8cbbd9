package area

import (
	"errors"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"github.com/paulmach/orb/simplify"
	"github.com/peterstace/simplefeatures/geom"

	"groundsheet/tiles"
)

const (
	corners     = 32   // of a drawn circle: within 0.5 % of its radius
	drawn       = 0.01 // of the reach, by which a line may be simplified before it is widened
	drawnSteady = 0.01 // like steady, for drawing
)

// errLost guards against a union that is smaller than what went into it.
var errLost = errors.New("the union lost a part")

// Outline is the area grown by margin metres, its parts joined, for drawing:
// the grown border is within 2 % of the reach (margin plus half width or
// radius). What has no width and gets no margin is left out. Outer rings run
// counter-clockwise, holes clockwise, and no ring crosses the antimeridian
// (RFC 7946, 3.1.6 and 3.1.9). To decide what lies inside use [Area.Covers].
func (a Area) Outline(margin float64) orb.MultiPolygon {
	if !(margin > 0) {
		margin = 0
	}
	var parts orb.MultiPolygon
	for _, polygon := range a.Polygons {
		for _, ring := range polygon {
			parts = appendWide(parts, orb.LineString(ring), margin)
		}
	}
	for _, s := range a.Strips {
		parts = appendWide(parts, s.Line, s.HalfWidth+margin)
	}
	for _, d := range a.Discs {
		parts = appendHull(parts, d.Center, d.Center, d.Radius+margin)
	}
	// The polygons come in last: they are large, and joined early they would be
	// carried through every join.
	whole, err := uniteAll(parts)
	if err == nil {
		var polygons geom.Geometry
		if polygons, err = uniteAll(a.Polygons); err == nil {
			whole, err = join(polygons, whole)
		}
	}
	if err != nil {
		return append(slices.Clone(a.Polygons), parts...) // overlapping, which draws nearly the same
	}
	return fromLibrary(whole.ForceCCW())
}

func uniteAll(parts orb.MultiPolygon) (geom.Geometry, error) {
	shapes := make([]geom.Geometry, len(parts))
	for i, p := range parts {
		shapes[i] = asPolygon(p).AsGeometry()
	}
	return unite(shapes)
}

// appendWide adds shapes that cover a line widened by reach on both sides.
func appendWide(parts orb.MultiPolygon, line orb.LineString, reach float64) orb.MultiPolygon {
	if !(reach > 0) || slices.ContainsFunc(line, func(p orb.Point) bool { return !finite(p) }) {
		return parts
	}
	// A degree of latitude is the longest degree there is, so that on the
	// ground the line moves less than this.
	degrees := drawn * reach / (semiMajor * math.Pi / 180)
	line = simplify.DouglasPeucker(degrees).LineString(line.Clone())
	var steps []step
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		if i == 1 {
			steps = append(steps, newStep(p, reach))
		}
		n := pieces(float64(sway(p, q)) * steady / drawnSteady)
		for j := range n {
			steps = append(steps, newStep(part(p, q, j+1, n), reach))
		}
	}
	for len(steps) > 1 {
		n := together(steps)
		parts = appendBand(parts, steps[:n], reach)
		steps = steps[n-1:]
	}
	return parts
}

// appendHull adds the hull of the discs at both ends, cut at the antimeridian.
func appendHull(parts orb.MultiPolygon, p, q orb.Point, reach float64) orb.MultiPolygon {
	if !(reach > 0) || !finite(p) || !finite(q) {
		return parts
	}
	var xy []float64
	for _, end := range []orb.Point{p, q} {
		e := ellipseAt(end, reach)
		for i := range corners {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
			lon, lat := tiles.Unproject(e.x+e.a*cos, e.y+e.b*sin)
			xy = append(xy, lon, lat)
		}
	}
	hull := geom.NewLineString(geom.NewSequence(xy, geom.DimXY)).AsGeometry().ConvexHull()
	for _, polygon := range fromLibrary(hull) {
		for _, turn := range []float64{-360, 0, 360} {
			parts = appendCut(parts, polygon, turn)
		}
	}
	return parts
}

// appendCut adds what of a convex polygon, turned by some degrees, lies
// between -180 and 180.
func appendCut(parts orb.MultiPolygon, polygon orb.Polygon, turn float64) orb.MultiPolygon {
	polygon = polygon.Clone()
	for i := range polygon[0] {
		polygon[0][i][0] += turn
	}
	world := orb.Bound{Min: orb.Point{-180, -90}, Max: orb.Point{180, 90}}
	b := polygon.Bound()
	switch {
	case b.Max[0] <= -180 || b.Min[0] >= 180:
		return parts
	case b.Min[0] < -180 || b.Max[0] > 180:
		if polygon = clip.Polygon(world, polygon); len(polygon) == 0 {
			return parts
		}
	}
	return append(parts, polygon)
}

// unite joins shapes by halves: neighbours overlap most, so their union is
// small before the next join. Only unions of two are asked for: the union of
// many has lost whole shapes (v0.50.0: a box and the hulls of its four edges).
func unite(shapes []geom.Geometry) (geom.Geometry, error) {
	switch len(shapes) {
	case 0:
		return geom.Geometry{}, nil
	case 1:
		return shapes[0], nil
	}
	a, err := unite(shapes[:len(shapes)/2])
	if err != nil {
		return a, err
	}
	b, err := unite(shapes[len(shapes)/2:])
	if err != nil {
		return b, err
	}
	return join(a, b)
}

func join(a, b geom.Geometry) (geom.Geometry, error) {
	switch {
	case a.IsEmpty():
		return b, nil
	case b.IsEmpty():
		return a, nil
	}
	both, err := geom.Union(a, b)
	if least := max(a.Area(), b.Area()); err == nil && both.Area() < least*(1-1e-6) {
		err = errLost
	}
	return both, err
}

// fromLibrary takes the polygons out of a geometry of the library.
func fromLibrary(g geom.Geometry) orb.MultiPolygon {
	var all orb.MultiPolygon
	for _, one := range g.Dump() {
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
	return all
}

package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"github.com/paulmach/orb/simplify"

	"groundsheet/tiles"
	"groundsheet/tiles/union"
)

const (
	corners     = 32   // of a drawn circle: within 0.5 % of its radius
	drawn       = 0.01 // of the reach, by which a line may be simplified before it is widened
	drawnSteady = 0.01 // like steady, for drawing
)

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
	// The polygons come in last: they are large.
	whole, err := union.Of(a.Polygons, parts)
	if err != nil {
		return append(slices.Clone(a.Polygons), parts...) // overlapping, which draws nearly the same
	}
	return whole
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
	var points []orb.Point
	for _, end := range []orb.Point{p, q} {
		e := ellipseAt(end, reach)
		for i := range corners {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
			lon, lat := tiles.Unproject(e.x+e.a*cos, e.y+e.b*sin)
			points = append(points, orb.Point{lon, lat})
		}
	}
	for _, polygon := range union.Hull(points) {
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

// Package union joins polygons. github.com/peterstace/simplefeatures does it;
// only unions of two are asked of it: its union of many has lost whole shapes
// (v0.50.0: a box and the hulls of its four edges).
package union

import (
	"errors"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

// ErrLost guards against a union that is smaller than what went into it.
var ErrLost = errors.New("the union lost a part")

// Of joins the polygons of each group, and then the groups, the last first: what
// is large is carried through few joins when it is a group of its own before the
// others. Outer rings run counter-clockwise, holes clockwise. Without polygons
// there is nothing.
func Of(groups ...orb.MultiPolygon) (orb.MultiPolygon, error) {
	var whole geom.Geometry
	for i := len(groups) - 1; i >= 0; i-- {
		group, err := halves(groups[i])
		if err == nil {
			whole, err = join(group, whole)
		}
		if err != nil {
			return nil, err
		}
	}
	return fromLibrary(whole.ForceCCW()), nil
}

// Hull is the smallest convex polygon round the points.
func Hull(points []orb.Point) orb.MultiPolygon {
	return fromLibrary(toLibrary(points).AsGeometry().ConvexHull())
}

// halves joins polygons by halves: neighbours overlap most, so their union is
// small before the next join.
func halves(polygons orb.MultiPolygon) (geom.Geometry, error) {
	switch len(polygons) {
	case 0:
		return geom.Geometry{}, nil
	case 1:
		rings := make([]geom.LineString, len(polygons[0]))
		for i, ring := range polygons[0] {
			rings[i] = toLibrary(ring)
		}
		return geom.NewPolygon(rings).AsGeometry(), nil
	}
	a, err := halves(polygons[:len(polygons)/2])
	if err != nil {
		return a, err
	}
	b, err := halves(polygons[len(polygons)/2:])
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
	if err == nil && both.Area() < max(a.Area(), b.Area())*(1-1e-6) {
		err = ErrLost
	}
	return both, err
}

func toLibrary(points []orb.Point) geom.LineString {
	xy := make([]float64, 0, 2*len(points))
	for _, p := range points {
		xy = append(xy, p[0], p[1])
	}
	return geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
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

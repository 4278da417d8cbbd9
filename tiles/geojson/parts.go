package geojson

import (
	"iter"

	"github.com/paulmach/orb"
)

// Parts yields the points, lines and polygons that a geometry consists of, in its
// order; collections are taken apart too.
func Parts(g orb.Geometry) iter.Seq[orb.Geometry] {
	return func(yield func(orb.Geometry) bool) { eachPart(g, yield) }
}

func eachPart(g orb.Geometry, yield func(orb.Geometry) bool) bool {
	switch g := g.(type) {
	case nil:
		return true
	case orb.MultiPoint:
		return eachOf(g, yield)
	case orb.MultiLineString:
		return eachOf(g, yield)
	case orb.MultiPolygon:
		return eachOf(g, yield)
	case orb.Collection:
		return eachOf(g, yield)
	}
	return yield(g)
}

func eachOf[G orb.Geometry](list []G, yield func(orb.Geometry) bool) bool {
	for _, g := range list {
		if !eachPart(g, yield) {
			return false
		}
	}
	return true
}

package overlay

import (
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// ShowsNear reports whether a record shows anything within reach metres of a
// dig area: a feature of any kind, or the line through readings that name one.
// Without an area, anything at all counts. What is only proposed does not: it
// tells what somebody means to build, and would hide that the utility's own
// record shows nothing here. Its zones and crossings are told all the same: it
// may have been built since.
func (o Overlay) ShowsNear(area orb.MultiPolygon, reach float64) bool {
	if len(area) == 0 {
		return slices.ContainsFunc(o.Features, func(f geojson.Feature) bool { return !o.isProposed(f) })
	}
	s := newSite(area)
	for _, f := range o.Features {
		if !o.isProposed(f) && s.isNear(f.Geometry, reach) {
			return true
		}
	}
	lines, _ := Lines(o, "")
	return slices.ContainsFunc(lines, func(l Line) bool { return l.Basis == basisReadings && l.State != Proposed && s.isNear(l.Path, reach) })
}

func (o Overlay) isProposed(f geojson.Feature) bool {
	state, _ := o.StateOf(f.Properties)
	return state == Proposed && o.Kind.Code != "proposed"
}

// isNear reports whether a shape touches the area or comes within reach metres.
func (s site) isNear(g orb.Geometry, reach float64) bool {
	switch g := g.(type) {
	case orb.Point:
		return s.pathIsNear(orb.LineString{g}, reach)
	case orb.MultiPoint:
		return slices.ContainsFunc(g, func(p orb.Point) bool { return s.isNear(p, reach) })
	case orb.LineString:
		return s.pathIsNear(g, reach)
	case orb.MultiLineString:
		return slices.ContainsFunc(g, func(l orb.LineString) bool { return s.isNear(l, reach) })
	case orb.Polygon:
		return slices.ContainsFunc(g, func(r orb.Ring) bool { return s.pathIsNear(orb.LineString(r), reach) }) || s.within(g)
	case orb.MultiPolygon:
		return slices.ContainsFunc(g, func(p orb.Polygon) bool { return s.isNear(p, reach) })
	case orb.Collection:
		return slices.ContainsFunc(g, func(one orb.Geometry) bool { return s.isNear(one, reach) })
	}
	return false
}

// within reports whether a face holds the area whole.
func (s site) within(face orb.Polygon) bool {
	f := newSite(orb.MultiPolygon{face})
	return slices.ContainsFunc(s.ends, func(e [2]orb.Point) bool { return f.contains(e[0]) })
}

func (s site) pathIsNear(path orb.LineString, reach float64) bool {
	return slices.ContainsFunc(path, s.contains) || len(path) > 0 && s.distance(Line{Path: path}, reach) <= reach
}

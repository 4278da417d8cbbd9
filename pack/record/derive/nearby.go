package derive

import (
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// ShowsNear reports whether a record shows anything in use within reach metres,
// and what it states to be off by, of a dig area: a feature of any kind, or the
// line through readings that name one. Without an area, anything in use counts.
// What is only proposed does not, nor what is abandoned: it would hide that the
// record shows no line in use here. Both are told and drawn all the same.
func ShowsNear(o record.Overlay, area orb.MultiPolygon, reach float64) bool {
	if len(area) == 0 {
		return slices.ContainsFunc(o.Features, func(f geojson.Feature) bool { return inUse(o, f) })
	}
	s := newSite(area)
	for _, f := range o.Features {
		if inUse(o, f) && s.isNear(f.Geometry, reach+orZero(o.AccuracyOf(f.Properties))) {
			return true
		}
	}
	lines, _ := Lines(o, "")
	return slices.ContainsFunc(lines, func(l Line) bool {
		return l.Basis == basisReadings && l.State != record.Proposed && l.State != record.Abandoned && s.isNear(l.Path, reach)
	})
}

func inUse(o record.Overlay, f geojson.Feature) bool {
	state, _ := o.StateOf(f.Properties)
	return state != record.Abandoned && (state != record.Proposed || o.Kind.Code == "proposed")
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

package derive

import (
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// ShowsNear reports whether a record shows anything in use within reach metres,
// plus its own stated accuracy, of a dig area: a feature of any kind, or a line
// through readings. Without an area, anything in use counts. Proposed and abandoned
// lines do not count: they would hide that the record shows no line in use here.
// They are reported and drawn all the same.
func ShowsNear(o record.Overlay, area orb.MultiPolygon, reach float64) bool {
	inUse := func(f geojson.Feature) bool {
		state, _ := o.StateOf(f.Properties)
		return state != record.Abandoned && (state != record.Proposed || o.Kind.Code == "proposed")
	}
	if len(area) == 0 {
		return slices.ContainsFunc(o.Features, inUse)
	}
	s := newAreaIndex(area)
	for _, f := range o.Features {
		if inUse(f) && s.isNear(f.Geometry, reach+orZero(o.AccuracyOf(f.Properties))) {
			return true
		}
	}
	lines, _ := Lines(o, "")
	return slices.ContainsFunc(lines, func(l Line) bool {
		return l.Basis == basisReadings && l.State != record.Proposed && l.State != record.Abandoned && s.isNear(l.Path, reach)
	})
}

// isNear reports whether a shape touches the area or comes within reach metres.
func (s areaIndex) isNear(g orb.Geometry, reach float64) bool {
	for part := range geojson.Parts(g) {
		near := false
		switch g := part.(type) {
		case orb.Point:
			near = s.pathIsNear(orb.LineString{g}, reach)
		case orb.LineString:
			near = s.pathIsNear(g, reach)
		case orb.Polygon:
			near = slices.ContainsFunc(g, func(r orb.Ring) bool { return s.pathIsNear(orb.LineString(r), reach) }) || s.within(g)
		}
		if near {
			return true
		}
	}
	return false
}

// within reports whether a polygon holds the area whole.
func (s areaIndex) within(polygon orb.Polygon) bool {
	f := newAreaIndex(orb.MultiPolygon{polygon})
	return slices.ContainsFunc(s.ends, func(e [2]orb.Point) bool { return f.contains(e[0]) })
}

func (s areaIndex) pathIsNear(path orb.LineString, reach float64) bool {
	return slices.ContainsFunc(path, s.contains) || len(path) > 0 && s.distance(path, reach) <= reach
}

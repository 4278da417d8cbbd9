package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"iter"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// geometry reads one geometry object; inner says that it lies in a collection.
func (r *reader) geometry(o object, kind, place string, inner bool) (orb.Geometry, error) {
	if kind == "GeometryCollection" {
		return r.geometries(o, place, inner)
	}
	raw := o["coordinates"]
	var g orb.Geometry
	var bad *fault.Fault
	line, ring := each[orb.LineString](r.position), each[orb.Ring](r.position)
	polygon := each[orb.Polygon](ring)
	switch kind {
	case "Point":
		g, bad = shape(raw, kind, r.position)
	case "MultiPoint":
		g, bad = shape(raw, kind, each[orb.MultiPoint](r.position))
	case "LineString":
		g, bad = shape(raw, kind, line)
	case "MultiLineString":
		g, bad = shape(raw, kind, each[orb.MultiLineString](line))
	case "Polygon":
		g, bad = shape(raw, kind, polygon)
	case "MultiPolygon":
		g, bad = shape(raw, kind, each[orb.MultiPolygon](polygon))
	default:
		bad = refuse(RuleType, "", fmt.Sprintf("unknown geometry type %q", kind),
			"GeoJSON knows Point, LineString, Polygon, their Multi forms and GeometryCollection; names are case-sensitive")
	}
	if bad == nil {
		bad = r.check(g)
	}
	if bad != nil {
		bad.Place = join(place, bad.Place)
		return nil, bad
	}
	return g, nil
}

func join(place, inner string) string {
	if inner == "" {
		return place
	}
	return place + ", " + inner
}

func (r *reader) geometries(o object, place string, inner bool) (orb.Geometry, error) {
	if inner {
		return nil, refuse(RuleNesting, place, "a GeometryCollection inside a GeometryCollection",
			"put its geometries into the outer one")
	}
	list, ok := o.array("geometries")
	if !ok {
		return nil, refuse(RuleMember, place, `a GeometryCollection needs a member "geometries" with an array`,
			"export the file again as GeoJSON")
	}
	all := orb.Collection{}
	for raw := range parts(list) {
		here := fmt.Sprintf("%s, geometry %d", place, len(all)+1)
		o, err := decode(raw, here)
		if err != nil {
			return nil, err
		}
		kind, err := o.kind(here)
		if err != nil {
			return nil, err
		}
		g, err := r.geometry(o, kind, here, true)
		if err != nil {
			return nil, err
		}
		all = append(all, g)
	}
	return all, nil
}

// builder makes a geometry of its coordinates; false when they are not nested as it
// has them.
type builder[G any] func(raw json.RawMessage) (G, bool)

// shape reads the coordinates of a geometry.
func shape[G orb.Geometry](raw json.RawMessage, kind string, build builder[G]) (orb.Geometry, *fault.Fault) {
	if len(raw) == 0 || isNull(raw) {
		return nil, refuse(RuleMember, "", "a "+kind+` needs a member "coordinates" with an array`,
			"export the file again as GeoJSON")
	}
	g, ok := build(raw)
	if !ok {
		return nil, refuse(RuleNesting, "", "coordinates are not nested as a "+kind+" has them",
			"check that the type fits the coordinates")
	}
	return g, nil
}

// each builds a list from a builder of its elements. null is an empty list.
func each[M ~[]G, G any](build builder[G]) builder[M] {
	return func(raw json.RawMessage) (M, bool) {
		if isNull(raw) {
			return M{}, true
		}
		all := make(M, 0, min(bytes.Count(raw, []byte("[")), MaxPositions)) // of positions, and more than enough else
		if raw = bytes.TrimSpace(raw); raw[0] != '[' {
			return nil, false
		}
		for element := range parts(raw) {
			g, ok := build(element)
			if !ok {
				return nil, false
			}
			all = append(all, g)
		}
		return slices.Clip(all), true
	}
}

// position reads a position. What is wrong with it is found by the check, which visits
// the positions in the same order.
func (r *reader) position(raw json.RawMessage) (orb.Point, bool) {
	var p pair
	p.parse(raw)
	r.converted++
	if p.rule != nil {
		r.unreadable[r.converted] = p
	}
	return p.point, true
}

// Parts yields the points, lines and polygons that a geometry consists of, in its
// order; collections are taken apart too.
func Parts(g orb.Geometry) iter.Seq[orb.Geometry] {
	return func(yield func(orb.Geometry) bool) { eachPart(g, yield) }
}

// Positions counts the positions of a geometry, those of closed rings twice where they close.
func Positions(g orb.Geometry) (n int) {
	for part := range Parts(g) {
		switch g := part.(type) {
		case orb.LineString:
			n += len(g)
		case orb.Polygon:
			for _, ring := range g {
				n += len(ring)
			}
		default:
			n++
		}
	}
	return n
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

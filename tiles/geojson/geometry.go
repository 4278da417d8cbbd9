package geojson

import (
	"encoding/json"
	"fmt"

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
	line, ring := each[orb.LineString](r.convert), each[orb.Ring](r.convert)
	polygon := each[orb.Polygon](ring)
	switch kind {
	case "Point":
		g, bad = shape(raw, kind, r.convert)
	case "MultiPoint":
		g, bad = shape(raw, kind, each[orb.MultiPoint](r.convert))
	case "LineString":
		g, bad = shape(raw, kind, line)
	case "MultiLineString":
		g, bad = shape(raw, kind, each[orb.MultiLineString](line))
	case "Polygon":
		g, bad = shape(raw, kind, polygon)
	case "MultiPolygon":
		g, bad = shape(raw, kind, each[orb.MultiPolygon](polygon))
	default:
		bad = refuse(RuleType, "", fmt.Sprintf("unknown geometry type %q", kind), "GeoJSON knows Point, LineString, Polygon, their Multi forms and GeometryCollection; names are case-sensitive")
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
		return nil, refuse(RuleNesting, place, "a GeometryCollection inside a GeometryCollection", "put its geometries into the outer one")
	}
	var list []json.RawMessage
	if err := json.Unmarshal(o["geometries"], &list); err != nil || list == nil {
		return nil, refuse(RuleMember, place, `a GeometryCollection needs a member "geometries" with an array`, "export the file again as GeoJSON")
	}
	all := make(orb.Collection, 0, len(list))
	for i, raw := range list {
		here := fmt.Sprintf("%s, geometry %d", place, i+1)
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

// shape decodes coordinates nested as T and builds the geometry from them.
func shape[T any, G orb.Geometry](raw json.RawMessage, kind string, build func(T) G) (orb.Geometry, *fault.Fault) {
	if len(raw) == 0 || isNull(raw) {
		return nil, refuse(RuleMember, "", "a "+kind+` needs a member "coordinates" with an array`, "export the file again as GeoJSON")
	}
	var nested T
	if err := json.Unmarshal(raw, &nested); err != nil {
		return nil, refuse(RuleNesting, "", "coordinates are not nested as a "+kind+" has them", "check that the type fits the coordinates")
	}
	return build(nested), nil
}

// each builds a list from one of what its elements are decoded as.
func each[M ~[]G, T, G any](build func(T) G) func([]T) M {
	return func(list []T) M {
		all := make(M, len(list))
		for i, v := range list {
			all[i] = build(v)
		}
		return all
	}
}

// convert gives the point of a position. What is wrong with it is found by the
// check, which visits the positions in the same order.
func (r *reader) convert(p pair) orb.Point {
	r.converted++
	if p.rule != nil {
		r.unreadable[r.converted] = p
	}
	return p.point
}

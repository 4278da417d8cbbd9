package geojson

import (
	"encoding/json"
	"fmt"

	"github.com/paulmach/orb"
)

// geometry reads one geometry object; inner says that it lies in a collection.
func (r *reader) geometry(o object, kind, place string, inner bool) (orb.Geometry, error) {
	if kind == "GeometryCollection" {
		return r.geometries(o, place, inner)
	}
	raw := o["coordinates"]
	var g orb.Geometry
	var fault *Fault
	switch kind {
	case "Point":
		g, fault = shape(raw, kind, r.point)
	case "MultiPoint":
		g, fault = shape(raw, kind, func(list []pair) (orb.MultiPoint, *Fault) { return many[orb.MultiPoint](list, "position", r.point) })
	case "LineString":
		g, fault = shape(raw, kind, r.line)
	case "MultiLineString":
		g, fault = shape(raw, kind, func(list [][]pair) (orb.MultiLineString, *Fault) {
			return many[orb.MultiLineString](list, "line", r.line)
		})
	case "Polygon":
		g, fault = shape(raw, kind, r.polygon)
	case "MultiPolygon":
		g, fault = shape(raw, kind, func(list [][][]pair) (orb.MultiPolygon, *Fault) {
			return many[orb.MultiPolygon](list, "polygon", r.polygon)
		})
	default:
		fault = &Fault{RuleType, "", fmt.Sprintf("unknown geometry type %q", kind), "GeoJSON knows Point, LineString, Polygon, their Multi forms and GeometryCollection; names are case-sensitive"}
	}
	if fault != nil {
		fault.Place = join(place, fault.Place)
		return nil, fault
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
		return nil, &Fault{RuleNesting, place, "a GeometryCollection inside a GeometryCollection", "put its geometries into the outer one"}
	}
	var list []json.RawMessage
	if err := json.Unmarshal(o["geometries"], &list); err != nil || list == nil {
		return nil, &Fault{RuleMember, place, `a GeometryCollection needs a member "geometries" with an array`, "export the file again as GeoJSON"}
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
func shape[T any, G orb.Geometry](raw json.RawMessage, kind string, build func(T) (G, *Fault)) (orb.Geometry, *Fault) {
	if len(raw) == 0 || isNull(raw) {
		return nil, &Fault{RuleMember, "", "a " + kind + ` needs a member "coordinates" with an array`, "export the file again as GeoJSON"}
	}
	var nested T
	if err := json.Unmarshal(raw, &nested); err != nil {
		return nil, &Fault{RuleNesting, "", "coordinates are not nested as a " + kind + " has them", "check that the type fits the coordinates"}
	}
	g, fault := build(nested)
	if fault != nil {
		return nil, fault
	}
	return g, nil
}

// many builds each element and names the one that fails.
func many[M ~[]G, T, G any](list []T, word string, build func(T) (G, *Fault)) (M, *Fault) {
	all := make(M, 0, len(list))
	for i, v := range list {
		g, fault := build(v)
		if fault != nil {
			fault.Place = join(fmt.Sprintf("%s %d", word, i+1), fault.Place)
			return nil, fault
		}
		all = append(all, g)
	}
	return all, nil
}

func (r *reader) line(list []pair) (orb.LineString, *Fault) {
	line, fault := many[orb.LineString](list, "position", r.point)
	if fault != nil {
		return nil, fault
	}
	if len(line) < 2 {
		return nil, &Fault{RuleLine, "", fmt.Sprintf("a line of %d positions", len(line)), "a line needs two or more"}
	}
	return line, checkEdges(line)
}

func (r *reader) polygon(list [][]pair) (orb.Polygon, *Fault) {
	if len(list) == 0 {
		return nil, &Fault{RuleRing, "", "a polygon without rings", "give its outer ring"}
	}
	return many[orb.Polygon](list, "ring", r.ring)
}

func (r *reader) ring(list []pair) (orb.Ring, *Fault) {
	ring, fault := many[orb.Ring](list, "position", r.point)
	switch {
	case fault != nil:
		return nil, fault
	case len(ring) < 4:
		return nil, &Fault{RuleRing, "", fmt.Sprintf("a ring of %d positions", len(ring)), "a ring needs four or more, the last the same as the first"}
	case ring[0] != ring[len(ring)-1]:
		return nil, &Fault{RuleOpenRing, fmt.Sprintf("position %d", len(ring)), "the ring is not closed", "end the ring with the position it begins with"}
	}
	return ring, checkEdges(ring)
}

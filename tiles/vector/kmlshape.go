package vector

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// shapes reads the geometry in a placemark. others counts what was seen and
// noted, but is no shape to read.
func (k *kmlReader) shapes(placemark *node, place string) (list []orb.Geometry, others int, err error) {
	before := k.tracks + k.models
	seen := 0
	for _, c := range placemark.children {
		more, known, err := k.shape(c, place)
		if err != nil {
			return nil, 0, err
		}
		if list = append(list, more...); known {
			seen++
		}
	}
	if seen > 1 {
		return nil, 0, refuse(geojson.RuleMember, place, fmt.Sprintf("%d shapes in one placemark, which has one", seen),
			"put them into a MultiGeometry, or export the file again")
	}
	return list, k.tracks + k.models - before, nil
}

// shape reads one geometry element; known says that it is one at all.
func (k *kmlReader) shape(n *node, place string) (list []orb.Geometry, known bool, err error) {
	switch n.name {
	case "Point", "LineString", "LinearRing":
		list, err = k.simple(n, place)
	case "Polygon":
		list, err = k.polygon(n, place)
	case "MultiGeometry": // flat, though it may hold others
		for _, c := range n.children {
			more, _, err := k.shape(c, place)
			if err != nil {
				return nil, false, err
			}
			list = append(list, more...)
		}
	case "Track", "MultiTrack":
		k.tracks++
		return nil, false, nil
	case "Model":
		k.models++
		return nil, false, nil
	default:
		return nil, false, nil
	}
	return list, true, err
}

// simple reads a shape of one list of positions. A ring outside of a polygon is
// an area, unless lines are wanted.
func (k *kmlReader) simple(n *node, place string) ([]orb.Geometry, error) {
	list, err := k.coordinates(n, place)
	switch {
	case err != nil:
		return nil, err
	case len(list) == 0:
		k.otherShapes++
		return nil, nil
	case n.name == "LinearRing" && k.want != Lines:
		return []orb.Geometry{orb.Polygon{orb.Ring(list)}}, nil
	case n.name != "Point":
		return []orb.Geometry{orb.LineString(list)}, nil
	case len(list) > 1:
		return nil, refuse(geojson.RulePosition, place, fmt.Sprintf("a point of %d positions", len(list)),
			"a point has one; is it a line?")
	}
	return []orb.Geometry{list[0]}, nil
}

func (k *kmlReader) polygon(n *node, place string) ([]orb.Geometry, error) {
	var outer, holes []orb.Ring
	for _, boundary := range n.children {
		if boundary.name != "outerBoundaryIs" && boundary.name != "innerBoundaryIs" {
			continue
		}
		for _, ring := range boundary.children {
			if ring.name != "LinearRing" {
				continue
			}
			list, err := k.coordinates(ring, place)
			switch {
			case err != nil:
				return nil, err
			case boundary.name == "outerBoundaryIs":
				outer = append(outer, list)
			default:
				holes = append(holes, list)
			}
		}
	}
	switch {
	case len(outer) == 0 && len(holes) == 0, len(outer) == 1 && len(outer[0]) == 0 && len(holes) == 0:
		k.otherShapes++
		return nil, nil
	case len(outer) != 1:
		return nil, refuse(geojson.RuleRing, place, fmt.Sprintf("a polygon with %d outer rings", len(outer)),
			"a polygon has one; put several polygons into a MultiGeometry")
	}
	return []orb.Geometry{orb.Polygon(append(outer, holes...))}, nil
}

// coordinates reads all positions of a shape: tuples of longitude, latitude
// and perhaps a height, with blanks between them and none inside.
func (k *kmlReader) coordinates(n *node, place string) ([]orb.Point, error) {
	var list []orb.Point
	for _, c := range n.children {
		if c.name != "coordinates" {
			continue
		}
		for tuple := range strings.FieldsSeq(c.text) {
			if err := k.room(len(list)+1, place); err != nil {
				return nil, err
			}
			p, detail := position(tuple)
			if detail != "" {
				return nil, refuse(geojson.RulePosition, fmt.Sprintf("%s, position %d (coordinates from line %d)",
					place, len(list)+1, c.line), detail,
					"a position is longitude,latitude in degrees, without blanks inside")
			}
			list = append(list, p)
		}
	}
	return list, nil
}

func position(tuple string) (p orb.Point, detail string) {
	if strings.HasPrefix(tuple, ",") || strings.HasSuffix(tuple, ",") {
		return p, "a blank beside a comma, so that " + quote(tuple) + " is a position cut in two"
	}
	parts := strings.Split(tuple, ",")
	if len(parts) < 2 || len(parts) > 3 {
		return p, fmt.Sprintf("%s is a position of %d numbers", quote(tuple), len(parts))
	}
	for i, part := range parts {
		v, ok := number(part)
		if !ok {
			return p, quote(part) + " is not a number"
		}
		if i < 2 {
			p[i] = v
		}
	}
	return p, ""
}

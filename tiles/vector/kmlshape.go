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
		return nil, 0, refuse(geojson.RuleMember, place, fmt.Sprintf("%d shapes in one placemark, which has one", seen), "put them into a MultiGeometry, or export the file again")
	}
	return list, k.tracks + k.models - before, nil
}

// shape reads one geometry element; known says that it is one at all.
func (k *kmlReader) shape(n *node, place string) (list []orb.Geometry, known bool, err error) {
	var g orb.Geometry
	switch n.name {
	case "Point":
		g, err = k.point(n, place)
	case "LineString":
		g, err = k.line(n, place)
	case "LinearRing":
		g, err = k.bareRing(n, place)
	case "Polygon":
		g, err = k.polygon(n, place)
	case "MultiGeometry":
		list, err = k.multi(n, place)
		return list, true, err
	case "Track", "MultiTrack":
		k.tracks++
		return nil, false, nil
	case "Model":
		k.models++
		return nil, false, nil
	default:
		return nil, false, nil
	}
	if g != nil {
		list = []orb.Geometry{g}
	}
	return list, true, err
}

// multi flattens a MultiGeometry, which may hold others.
func (k *kmlReader) multi(n *node, place string) ([]orb.Geometry, error) {
	var all []orb.Geometry
	for _, c := range n.children {
		list, _, err := k.shape(c, place)
		if err != nil {
			return nil, err
		}
		all = append(all, list...)
	}
	return all, nil
}

func (k *kmlReader) point(n *node, place string) (orb.Geometry, error) {
	list, err := k.coordinates(n, place)
	switch {
	case err != nil:
		return nil, err
	case len(list) == 0:
		k.otherShapes++
		return nil, nil
	case len(list) > 1:
		return nil, refuse(geojson.RulePosition, place, fmt.Sprintf("a point of %d positions", len(list)), "a point has one; is it a line?")
	}
	return list[0], nil
}

func (k *kmlReader) line(n *node, place string) (orb.Geometry, error) {
	list, err := k.coordinates(n, place)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		k.otherShapes++
		return nil, nil
	}
	return orb.LineString(list), nil
}

// bareRing is a ring outside of a polygon: an area, unless lines are wanted.
func (k *kmlReader) bareRing(n *node, place string) (orb.Geometry, error) {
	list, err := k.coordinates(n, place)
	switch {
	case err != nil:
		return nil, err
	case len(list) == 0:
		k.otherShapes++
		return nil, nil
	case k.want == Lines:
		return orb.LineString(list), nil
	}
	return orb.Polygon{orb.Ring(list)}, nil
}

func (k *kmlReader) polygon(n *node, place string) (orb.Geometry, error) {
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
		return nil, refuse(geojson.RuleRing, place, fmt.Sprintf("a polygon with %d outer rings", len(outer)), "a polygon has one; put several polygons into a MultiGeometry")
	}
	return orb.Polygon(append(outer, holes...)), nil
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
				return nil, refuse(geojson.RulePosition, fmt.Sprintf("%s, position %d (coordinates from line %d)", place, len(list)+1, c.line), detail,
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

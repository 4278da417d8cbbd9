package vector

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// Base types of shapes; Z and M forms are 10 and 20 more, with their heights
// and measures after the positions.
const (
	shapeNull     = 0
	shapePoint    = 1
	shapeLine     = 3
	shapePolygon  = 5
	shapeMultiple = 8
)

// shape reads the content of a record after its type; nil when there is none.
func (s *shapeReader) shape(base uint32, content []byte, place string) (orb.Geometry, error) {
	const box, count = 32, 4
	switch base {
	case shapeNull:
		return nil, nil
	case shapePoint:
		points, err := s.points(content, 1, place)
		if err != nil {
			return nil, err
		}
		return s.degrees(points[0], place)
	case shapeMultiple:
		if len(content) < box+count {
			return nil, short(place)
		}
		points, err := s.points(content[box+count:], binary.LittleEndian.Uint32(content[box:]), place)
		if err != nil || len(points) == 0 {
			return nil, err
		}
		return s.many(points, place)
	}
	parts, err := s.split(content, place)
	if err != nil || len(parts) == 0 {
		return nil, err
	}
	if base == shapePolygon {
		return s.polygons(parts, place)
	}
	return s.lines(parts, place)
}

func short(place string) error {
	return refuse(RuleRecord, place, "it is shorter than its shape needs", exportAgain)
}

// points reads n positions in the coordinates of the file.
func (s *shapeReader) points(content []byte, n uint32, place string) ([]orb.Point, error) {
	const each = 16
	if int64(n)*each > int64(len(content)) {
		return nil, refuse(RuleRecord, place, fmt.Sprintf("it claims %d positions and has room for %d", n,
			len(content)/each), exportAgain)
	}
	if err := s.room(int(n), place); err != nil {
		return nil, err
	}
	points := make([]orb.Point, n)
	for i := range points {
		p := orb.Point{double(content[i*each:]), double(content[i*each+8:])}
		if sum := p[0] + p[1]; math.IsNaN(sum) || math.IsInf(sum, 0) {
			return nil, refuse(geojson.RuleNumber, fmt.Sprintf("%s, position %d", place, i+1),
				"a coordinate is not a finite number", exportAgain)
		}
		points[i] = p
	}
	return points, nil
}

// split reads the parts of a PolyLine or Polygon.
func (s *shapeReader) split(content []byte, place string) ([][]orb.Point, error) {
	const partsAt, pointsAt, indexAt = 32, 36, 40
	if len(content) < indexAt {
		return nil, short(place)
	}
	numParts := binary.LittleEndian.Uint32(content[partsAt:])
	numPoints := binary.LittleEndian.Uint32(content[pointsAt:])
	if int64(numParts)*4 > int64(len(content)-indexAt) {
		return nil, refuse(RuleRecord, place, fmt.Sprintf("it claims %d parts and has no room for them", numParts),
			exportAgain)
	}
	if numParts > MaxParts {
		return nil, refuse(geojson.RuleSize, place, fmt.Sprintf("more than %d rings or lines", MaxParts), "split the file")
	}
	points, err := s.points(content[indexAt+4*numParts:], numPoints, place)
	if err != nil {
		return nil, err
	}
	if numParts == 0 && numPoints > 0 {
		return nil, refuse(RuleRecord, place, "positions without a part they belong to", exportAgain)
	}
	starts := make([]uint32, numParts+1)
	for i := range numParts {
		starts[i] = binary.LittleEndian.Uint32(content[indexAt+4*i:])
	}
	starts[numParts] = numPoints
	return cut(points, starts, place)
}

// cut takes the points apart where the parts start.
func cut(points []orb.Point, starts []uint32, place string) ([][]orb.Point, error) {
	if starts[0] != 0 {
		return nil, refuse(RuleRecord, place, "the first part does not start at the first position", exportAgain)
	}
	parts := make([][]orb.Point, 0, len(starts)-1)
	for i := 1; i < len(starts); i++ {
		from, to := starts[i-1], starts[i]
		if from >= to || int64(to) > int64(len(points)) {
			return nil, refuse(RuleRecord, fmt.Sprintf("%s, part %d", place, i), "the parts are empty or not in order",
				exportAgain)
		}
		parts = append(parts, points[from:to:to])
	}
	return parts, nil
}

func (s *shapeReader) many(points []orb.Point, place string) (orb.MultiPoint, error) {
	all := make(orb.MultiPoint, len(points))
	for i, p := range points {
		var err error
		if all[i], err = s.degrees(p, fmt.Sprintf("%s, position %d", place, i+1)); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func (s *shapeReader) lines(parts [][]orb.Point, place string) (orb.Geometry, error) {
	list := make([]orb.Geometry, len(parts))
	for i, part := range parts {
		line, err := s.many(part, fmt.Sprintf("%s, part %d", place, i+1))
		if err != nil {
			return nil, err
		}
		list[i] = orb.LineString(line)
	}
	return gather(list), nil
}

// maxEdgeTests bounds the search for the outer rings of holes.
const maxEdgeTests = 200_000_000

// outline is an outer ring with its holes, in the file's own coordinates.
type outline struct {
	ring  orb.Ring
	bound orb.Bound
	area  float64
	holes []orb.Ring
}

// polygons sorts the rings of a record: outer rings run clockwise, holes the
// other way, and a hole belongs to the smallest outer ring around it.
func (s *shapeReader) polygons(parts [][]orb.Point, place string) (orb.Geometry, error) {
	outlines, holes, err := s.sortRings(parts, place)
	if err != nil {
		return nil, err
	}
	if err := assign(outlines, holes, place); err != nil {
		return nil, err
	}
	list := make([]orb.Geometry, len(outlines))
	for i, o := range outlines {
		polygon := make(orb.Polygon, 0, 1+len(o.holes))
		for _, ring := range append([]orb.Ring{o.ring}, o.holes...) {
			points, err := s.many(ring, place)
			if err != nil {
				return nil, err
			}
			polygon = append(polygon, orb.Ring(points))
		}
		list[i] = polygon
	}
	return gather(list), nil
}

type hole struct {
	ring orb.Ring
	part int // its number in the record, from 1
}

// sortRings separates outer rings from holes by their direction.
func (s *shapeReader) sortRings(parts [][]orb.Point, place string) ([]*outline, []hole, error) {
	var outlines []*outline
	var holes []hole
	for i, part := range parts {
		ring := orb.Ring(part)
		area := signedArea(ring)
		if len(parts) == 1 && area > 0 {
			area = -area
			s.note("%s runs the wrong way round for an outer ring; being the only ring, it was taken as one.", capital(place))
		}
		switch {
		case area < 0:
			outlines = append(outlines, &outline{ring: ring, bound: ring.Bound(), area: -area})
		case area > 0:
			holes = append(holes, hole{ring, i + 1})
		default:
			return nil, nil, refuse(geojson.RuleRing, fmt.Sprintf("%s, part %d", place, i+1), "a ring without area", exportAgain)
		}
	}
	return outlines, holes, nil
}

// signedArea is positive for a ring that runs counter-clockwise. Positions are
// taken from the first one, so that digits are not lost far from the origin.
func signedArea(ring orb.Ring) float64 {
	sum := 0.0
	o := ring[0]
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		sum += (a[0]-o[0])*(b[1]-o[1]) - (b[0]-o[0])*(a[1]-o[1])
	}
	return sum / 2
}

// assign gives each hole to the smallest outer ring around it.
func assign(outlines []*outline, holes []hole, place string) error {
	if len(holes) == 0 {
		return nil
	}
	smallest := slices.Clone(outlines)
	slices.SortStableFunc(smallest, func(a, b *outline) int { return cmp.Compare(a.area, b.area) })
	tests := 0
	for _, h := range holes {
		here := fmt.Sprintf("%s, part %d", place, h.part)
		bound := h.ring.Bound()
		i := slices.IndexFunc(smallest, func(o *outline) bool {
			if tests++; !o.bound.Contains(bound.Min) || !o.bound.Contains(bound.Max) {
				return false
			}
			return o.holds(h.ring, &tests)
		})
		switch {
		case tests > maxEdgeTests:
			return refuse(geojson.RuleSize, here, "too many rings in one record to sort its holes", "split the shape")
		case i < 0:
			return refuse(geojson.RuleRing, here, "a hole (it runs counter-clockwise) outside of every outer ring", exportAgain)
		}
		smallest[i].holes = append(smallest[i].holes, h.ring)
	}
	return nil
}

// holds reports whether a ring lies in the outline, by its first vertex that is
// not on the edge. Rings that cross are for a later check to find.
func (o *outline) holds(ring orb.Ring, tests *int) bool {
	for _, p := range ring {
		if *tests += len(o.ring); *tests > maxEdgeTests {
			return false
		}
		if where := locate(p, o.ring); where != 0 {
			return where > 0
		}
	}
	return true
}

// locate gives 1 inside of a ring, -1 outside, 0 on its edge.
func locate(p orb.Point, ring orb.Ring) int {
	inside := -1
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		side := (b[0]-a[0])*(p[1]-a[1]) - (p[0]-a[0])*(b[1]-a[1])
		if side == 0 && min(a[0], b[0]) <= p[0] && p[0] <= max(a[0], b[0]) && min(a[1], b[1]) <= p[1] &&
			p[1] <= max(a[1], b[1]) {
			return 0
		}
		if (a[1] > p[1]) != (b[1] > p[1]) && (side > 0) == (b[1] > a[1]) {
			inside = -inside
		}
	}
	return inside
}

package vector

import (
	"encoding/binary"
	"fmt"
	"math"

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
		return nil, refuse(RuleRecord, place, fmt.Sprintf("it claims %d positions and has room for %d", n, len(content)/each), exportAgain)
	}
	if err := s.room(int(n), place); err != nil {
		return nil, err
	}
	points := make([]orb.Point, n)
	for i := range points {
		p := orb.Point{double(content[i*each:]), double(content[i*each+8:])}
		if sum := p[0] + p[1]; math.IsNaN(sum) || math.IsInf(sum, 0) {
			return nil, refuse(geojson.RuleNumber, fmt.Sprintf("%s, position %d", place, i+1), "a coordinate is not a finite number", exportAgain)
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
		return nil, refuse(RuleRecord, place, fmt.Sprintf("it claims %d parts and has no room for them", numParts), exportAgain)
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
			return nil, refuse(RuleRecord, fmt.Sprintf("%s, part %d", place, i), "the parts are empty or not in order", exportAgain)
		}
		parts = append(parts, points[from:to:to])
	}
	return parts, nil
}

// degrees turns one position of the file into longitude and latitude.
func (s *shapeReader) degrees(p orb.Point, place string) (orb.Point, error) {
	if s.crs.toDegrees == nil {
		return p, nil
	}
	q, ok := s.crs.toDegrees(p)
	if !ok {
		return q, refuse(RuleProjection, place, fmt.Sprintf("position %v, %v is far outside of %s", p[0], p[1], s.crs.name),
			"check that the .prj belongs to this .shp")
	}
	return q, nil
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

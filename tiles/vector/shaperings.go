package vector

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

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
		if side == 0 && min(a[0], b[0]) <= p[0] && p[0] <= max(a[0], b[0]) && min(a[1], b[1]) <= p[1] && p[1] <= max(a[1], b[1]) {
			return 0
		}
		if (a[1] > p[1]) != (b[1] > p[1]) && (side > 0) == (b[1] > a[1]) {
			inside = -inside
		}
	}
	return inside
}

package area

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"

	"groundsheet/tiles/geojson"
)

// flat is the width, as a part of the length, below which a ring has no area.
const flat = 1e-9

// notSimple is how the library says that a ring meets itself.
const notSimple = "ring not simple"

// checkLine refuses a line outside the map or without length.
func (c *validator) checkLine(line orb.LineString, place string) error {
	if err := c.checkPoints(line, place); err != nil {
		return err
	}
	for _, p := range line {
		if p != line[0] {
			return nil
		}
	}
	return refuse(RuleFlat, place, "the line has no length",
		"draw it again with two different ends, or use a place and a radius")
}

func (c *validator) checkPoints(line []orb.Point, place string) error {
	if err := c.count(len(line), place); err != nil {
		return err
	}
	for i, p := range line {
		if err := checkPoint(p, fmt.Sprintf("%s, position %d", place, i+1)); err != nil {
			return err
		}
	}
	return nil
}

// checkPolygon refuses a polygon that is outside the map, flat, or not valid
// by OGC 06-103r4, 6.1.11. Rings that touch themselves at single places, which
// are not valid either, are taken apart there.
func (c *validator) checkPolygon(polygon orb.Polygon, place string) (orb.MultiPolygon, error) {
	if len(polygon) == 0 {
		return nil, refuse(RuleFlat, place, "the polygon has no ring", "draw it again")
	}
	for i, ring := range polygon {
		here := fmt.Sprintf("%s, ring %d", place, i+1)
		if err := c.checkPoints(ring, here); err != nil {
			return nil, err
		}
		if isFlat(ring) {
			return nil, refuse(RuleFlat, nearest(here, ring), "the ring has no area",
				"draw it again, or use a line with a width")
		}
	}
	if err := validate(polygon); err != nil {
		if strings.Contains(err.Error(), notSimple) {
			return splitTouching(polygon, place)
		}
		return nil, violation(err, polygon, place)
	}
	return orb.MultiPolygon{polygon}, nil
}

// validate asks the library, for polygons with holes twice: it judges whether a
// hole lies in its polygon, or in another hole, by the hole's first position
// alone (v0.50.0), which says nothing when the rings touch there. Rings touch
// at one place at most, so that another position decides.
func validate(polygon orb.Polygon) error {
	if err := asPolygon(polygon).Validate(); err != nil || len(polygon) < 2 {
		return err
	}
	later := orb.Polygon{polygon[0]}
	for _, ring := range polygon[1:] {
		i := max(slices.IndexFunc(ring, func(p orb.Point) bool { return p != ring[0] }), 0)
		later = append(later, slices.Concat(ring[i:], ring[1:i+1]))
	}
	return asPolygon(later).Validate()
}

func nearest(place string, ring orb.Ring) string {
	if len(ring) == 0 {
		return place
	}
	return near(place, ring[0])
}

func near(place string, p orb.Point) string {
	return fmt.Sprintf("%s, at or near %.5f, %.5f", place, p[1], p[0])
}

// isFlat reports whether all positions lie on one line, or are one.
func isFlat(ring orb.Ring) bool {
	if len(ring) == 0 {
		return true
	}
	a, b, long := ring[0], ring[0], 0.0
	for _, p := range ring {
		if d := math.Hypot(p[0]-a[0], p[1]-a[1]); d > long {
			b, long = p, d
		}
	}
	for _, p := range ring {
		cross := (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0])
		if math.Abs(cross) > flat*long*long {
			return false
		}
	}
	return true
}

// violation converts an error of the library into a fault. The library gives
// the rule only as text, and no place for a crossing.
func violation(err error, polygon orb.Polygon, place string) error {
	text, at := err.Error(), polygon[0][0]
	says := func(words string) bool { return strings.Contains(text, words) }
	switch {
	case says("outside of exterior"):
		return refuse(RuleHole, near(place, libraryPlace(text, at)), "a hole lies outside its polygon",
			"draw the hole inside, or make it a polygon of its own")
	case says("nested"):
		return refuse(RuleHole, near(place, libraryPlace(text, at)), "a hole lies inside another hole",
			"make what is inside the hole a polygon of its own")
	case says("intersect at multiple"):
		return refuse(RuleRings, near(place, ringCrossing(polygon)), "the rings of the polygon cross or share an edge",
			"move the hole inside, or cut the outline instead")
	case says("disconnected"):
		return refuse(RuleRings, near(place, ringCrossing(polygon)), "the holes cut the polygon in two",
			"draw the parts as polygons of their own")
	case says("not closed"):
		return refuse(geojson.RuleOpenRing, near(place, libraryPlace(text, at)), "a ring is not closed",
			"end the ring with the position it begins with")
	}
	return refuse(RuleSelfCrossing, near(place, at), "the outline is not valid: "+text,
		"draw it again so that no two edges meet")
}

// libraryPlace reads "(at or near {X Y})", or gives otherwise.
func libraryPlace(text string, otherwise orb.Point) (p orb.Point) {
	_, at, _ := strings.Cut(text, "at or near {")
	if n, _ := fmt.Sscanf(at, "%g %g", &p[0], &p[1]); n != 2 {
		return otherwise
	}
	return p
}

// asPolygon hands a polygon to the library, not yet validated.
func asPolygon(polygon orb.Polygon) geom.Polygon {
	rings := make([]geom.LineString, len(polygon))
	for i, ring := range polygon {
		xy := make([]float64, 0, 2*len(ring))
		for _, p := range ring {
			xy = append(xy, p[0], p[1])
		}
		rings[i] = geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
	}
	return geom.NewPolygon(rings)
}

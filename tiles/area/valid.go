package area

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"

	"groundsheet/tiles/geojson"
)

// flat is the width, as a part of the length, below which a ring has no area.
const flat = 1e-9

// checkLine refuses a line outside the map or without length.
func (c *collector) checkLine(line orb.LineString, place string) error {
	if err := c.checkPoints(line, place); err != nil {
		return err
	}
	for _, p := range line {
		if p != line[0] {
			return nil
		}
	}
	return fault(RuleFlat, place, "the line has no length", "draw it again with two different ends, or use a place and a radius")
}

func (c *collector) checkPoints(line []orb.Point, place string) error {
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
// by OGC 06-103r4, 6.1.11.
func (c *collector) checkPolygon(polygon orb.Polygon, place string) error {
	if len(polygon) == 0 {
		return fault(RuleFlat, place, "the polygon has no ring", "draw it again")
	}
	for i, ring := range polygon {
		here := fmt.Sprintf("%s, ring %d", place, i+1)
		if err := c.checkPoints(ring, here); err != nil {
			return err
		}
		if isFlat(ring) {
			return fault(RuleFlat, nearest(here, ring), "the ring has no area", "draw it again, or use a line with a width")
		}
	}
	if err := asPolygon(polygon).Validate(); err != nil {
		return violation(err, polygon, place)
	}
	return nil
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

// violation turns what the library says into a fault of ours. The library
// tells the rule only as text, and of a crossing no place.
func violation(err error, polygon orb.Polygon, place string) error {
	text, at := err.Error(), polygon[0][0]
	says := func(words string) bool { return strings.Contains(text, words) }
	switch {
	case says("outside of exterior"):
		return fault(RuleHole, near(place, libraryPlace(text, at)), "a hole lies outside its polygon", "draw the hole inside, or make it a polygon of its own")
	case says("nested"):
		return fault(RuleHole, near(place, libraryPlace(text, at)), "a hole lies inside another hole", "make what is inside the hole a polygon of its own")
	case says("intersect at multiple"):
		p, _ := meeting(polygon, false)
		return fault(RuleRings, near(place, p), "the rings of the polygon cross or share an edge", "move the hole inside, or cut the outline instead")
	case says("disconnected"):
		p, _ := meeting(polygon, false)
		return fault(RuleRings, near(place, p), "the holes cut the polygon in two", "draw the parts as polygons of their own")
	case says("not closed"):
		return fault(geojson.RuleOpenRing, near(place, libraryPlace(text, at)), "a ring is not closed", "end the ring with the position it begins with")
	}
	for i, ring := range polygon {
		if p, ok := meeting(orb.Polygon{ring}, true); ok {
			return fault(RuleSelfCrossing, near(fmt.Sprintf("%s, ring %d", place, i+1), p), "the outline crosses or touches itself", "draw it again so that no two edges meet")
		}
	}
	return fault(RuleSelfCrossing, near(place, at), "the outline is not valid: "+text, "draw it again so that no two edges meet")
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

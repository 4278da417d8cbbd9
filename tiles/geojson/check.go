package geojson

import (
	"fmt"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// Check applies the rules of [Read] to a geometry that came from elsewhere:
// finite numbers, degrees in range, lines of two positions, closed rings of
// four, no edge across the antimeridian. place begins the place of the
// [*fault.Fault]. A nil geometry breaks no rule.
func Check(g orb.Geometry, place string) error {
	var r reader
	bad := r.check(g)
	if bad == nil {
		return nil
	}
	if place != "" {
		bad.Place = join(place, bad.Place)
	}
	return bad
}

func (r *reader) check(g orb.Geometry) *fault.Fault {
	switch g := g.(type) {
	case nil:
		return nil
	case orb.Point:
		return r.checkPoint(g)
	case orb.MultiPoint:
		return checkEach(g, "position", r.checkPoint)
	case orb.LineString:
		return r.checkLine(g)
	case orb.MultiLineString:
		return checkEach(g, "line", r.checkLine)
	case orb.Ring:
		return r.checkRing(g)
	case orb.Polygon:
		return r.checkPolygon(g)
	case orb.MultiPolygon:
		return checkEach(g, "polygon", r.checkPolygon)
	case orb.Collection:
		return checkEach(g, "geometry", func(inner orb.Geometry) *fault.Fault {
			if _, nested := inner.(orb.Collection); nested {
				return refuse(RuleNesting, "", "a collection inside a collection", "put its geometries into the outer one")
			}
			return r.check(inner)
		})
	}
	return refuse(RuleType, "", fmt.Sprintf("a %T has no form in GeoJSON", g), "use a geometry that GeoJSON knows")
}

// checkEach names the element that fails.
func checkEach[G any](list []G, word string, check func(G) *fault.Fault) *fault.Fault {
	for i, g := range list {
		if bad := check(g); bad != nil {
			bad.Place = join(fmt.Sprintf("%s %d", word, i+1), bad.Place)
			return bad
		}
	}
	return nil
}

func (r *reader) checkLine(line orb.LineString) *fault.Fault {
	if bad := checkEach(line, "position", r.checkPoint); bad != nil {
		return bad
	}
	if len(line) < 2 {
		return refuse(RuleLine, "", fmt.Sprintf("a line of %d positions", len(line)), "a line needs two or more")
	}
	return checkEdges(line)
}

func (r *reader) checkPolygon(p orb.Polygon) *fault.Fault {
	if len(p) == 0 {
		return refuse(RuleRing, "", "a polygon without rings", "give its outer ring")
	}
	return checkEach(p, "ring", r.checkRing)
}

func (r *reader) checkRing(ring orb.Ring) *fault.Fault {
	if bad := checkEach(ring, "position", r.checkPoint); bad != nil {
		return bad
	}
	switch last := len(ring) - 1; {
	case len(ring) < 4:
		return refuse(RuleRing, "", fmt.Sprintf("a ring of %d positions", len(ring)),
			"a ring needs four or more, the last the same as the first")
	case ring[0] != ring[last]:
		return refuse(RuleOpenRing, fmt.Sprintf("position %d", last+1), "the ring is not closed",
			"end the ring with the position it begins with")
	}
	return checkEdges(ring)
}

// Rules that a text can break: the kinds of its faults.
var (
	RuleEmpty        = fault.Input("empty")        // nothing but blanks
	RuleEncoding     = fault.Input("encoding")     // not UTF-8 (RFC 8259, 8.1)
	RuleJSON         = fault.Input("json")         // not JSON
	RuleType         = fault.Input("type")         // not an object, or an unknown or missing type (RFC 7946, 1.4)
	RuleMember       = fault.Input("member")       // a needed member is missing or of the wrong kind
	RuleCRS          = fault.Input("crs")          // a coordinate reference system other than WGS 84 (section 4)
	RuleNesting      = fault.Input("nesting")      // arrays or collections nested in a way the type does not have
	RulePosition     = fault.Input("position")     // fewer than two numbers (3.1.1)
	RuleNumber       = fault.Input("number")       // not a number, or too large for one
	RuleLatitude     = fault.Input("latitude")     // beyond ±90 degrees
	RuleLongitude    = fault.Input("longitude")    // beyond ±180 degrees
	RuleLine         = fault.Input("line")         // a line of fewer than two positions (3.1.4)
	RuleRing         = fault.Input("ring")         // a polygon without rings, or a ring of fewer than four positions (3.1.6)
	RuleOpenRing     = fault.Input("open ring")    // first and last position differ (3.1.6)
	RuleAntimeridian = fault.Input("antimeridian") // an edge over more than 180 degrees of longitude (3.1.9)
	RuleSize         = fault.Input("size")         // more than [MaxPositions] positions or features
)

// MaxPositions is the most positions, and the most features, one text may hold.
const MaxPositions = 1_000_000

// refuse is a fault whose place its callers may complete.
func refuse(rule *fault.Kind, place, detail, remedy string) *fault.Fault {
	return &fault.Fault{Kind: rule, Place: place, Detail: detail, Remedy: remedy}
}

package geojson

import "groundsheet/tiles/fault"

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

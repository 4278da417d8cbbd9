package geojson

// Rules a text can break; [Fault.Rule] holds one of them.
const (
	RuleEmpty        = "empty"        // nothing but blanks
	RuleEncoding     = "encoding"     // not UTF-8 (RFC 8259, 8.1)
	RuleJSON         = "json"         // not JSON
	RuleType         = "type"         // not an object, or an unknown or missing type (RFC 7946, 1.4)
	RuleMember       = "member"       // a needed member is missing or of the wrong kind
	RuleCRS          = "crs"          // a coordinate reference system other than WGS 84 (section 4)
	RuleNesting      = "nesting"      // arrays or collections nested in a way the type does not have
	RulePosition     = "position"     // fewer than two numbers (3.1.1)
	RuleNumber       = "number"       // not a number, or too large for one
	RuleLatitude     = "latitude"     // beyond ±90 degrees
	RuleLongitude    = "longitude"    // beyond ±180 degrees
	RuleLine         = "line"         // a line of fewer than two positions (3.1.4)
	RuleRing         = "ring"         // a polygon without rings, or a ring of fewer than four positions (3.1.6)
	RuleOpenRing     = "open ring"    // first and last position differ (3.1.6)
	RuleAntimeridian = "antimeridian" // an edge over more than 180 degrees of longitude (3.1.9)
	RuleSize         = "size"         // more than [MaxPositions] positions or features
)

// MaxPositions is the most positions, and the most features, one text may hold.
const MaxPositions = 1_000_000

// Fault says which rule a text or a shape breaks, where, and what to do.
type Fault struct {
	Rule   string // one of the Rule constants, for programs
	Place  string // "feature 2, ring 1, position 4"
	Detail string // what is wrong
	Remedy string // what to do
}

// Error gives "place: detail; remedy".
func (f *Fault) Error() string {
	text := f.Detail
	if f.Place != "" {
		text = f.Place + ": " + text
	}
	if f.Remedy != "" {
		text += "; " + f.Remedy
	}
	return text
}

// Package pack is the pack file: one MBTiles 1.3 file with the base map, and in
// tables of our own what is recorded under the ground, where every tile came
// from and what the job wanted. It is the only place that turns rows from
// north-first (XYZ) to south-first (TMS).
package pack

import (
	"cmp"
	"maps"
	"regexp"
	"time"

	"groundsheet/pack/record/derive"
	"groundsheet/pack/record/instrument"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// About is what a pack says of itself: stored in it as JSON and shown by the
// field server. Empty texts and nil mean "not stated".
type About struct {
	Name       string             `json:"name"`
	Number     string             `json:"number"`
	Units      string             `json:"units"`
	OneCall    string             `json:"one_call"`
	Invented   bool               `json:"invented"`
	Source     AboutSource        `json:"source"`
	Packed     time.Time          `json:"packed"`
	Fetched    *Fetched           `json:"fetched"`
	Ticket     *Ticket            `json:"ticket"`
	Tolerance  *Tolerance         `json:"tolerance"`
	Rules      []derive.Rule      `json:"rules,omitempty"`      // of clearance between utilities, as the job states them
	Instrument *instrument.Format `json:"instrument,omitempty"` // how the lines of the crew's instrument are read; nil = not stated
	Records    Records            `json:"records"`
	Expected   []string           `json:"expected"`
	// of Expected: nothing is recorded on or near the dig area, see [Gaps]
	ExpectedMissing []string `json:"expected_missing"`
	// of ExpectedMissing: there is a record, and it shows nothing there
	NothingHere []string `json:"expected_nothing_here"`
	// of Expected: their records show something near the dig area and nothing in it
	OnlyNear         []string `json:"expected_only_near,omitempty"`
	MarginM          float64  `json:"margin_m"`
	FitInBytes       int64    `json:"fit_in_bytes"`
	JPEGQuality      int      `json:"jpeg_quality"` // 0 = images as the source sent them
	Zooms            [2]int   `json:"zooms"`
	TileSize         int      `json:"tile_size"`
	GroundResolution float64  `json:"ground_resolution_m"` // a pixel of the deepest zoom at the middle of the area
	Tiles            int64    `json:"tiles"`
	Holes            int64    `json:"holes"` // wanted, but absent at the source
	// of Holes: pictures that the operator named as no imagery
	Placeholders int64     `json:"placeholders"`
	Suspects     []Suspect `json:"suspects"` // packed images that are most likely no imagery
	// of Tiles: no longer fresh when packed, and the source could not confirm them
	Unconfirmed int64 `json:"unconfirmed,omitempty"`
	Decoded     bool  `json:"decoded,omitempty"` // every packed image was decoded when it was packed
	// wanted and held, but not packed: the images do not decode
	Undecodable int64 `json:"undecodable,omitempty"`
	// the terms allow keeping the oldest tile until then; nil = no limit stated
	KeepUntil *time.Time `json:"keep_until"`
	// Home is how far field books had come home to the job when it was packed.
	Home []BookHome `json:"home,omitempty"`
}

// BookHome tells of a field book how much of it had come home: it is that book only where its
// entry of this number has this hash.
type BookHome struct {
	Book    string `json:"book"`    // identity
	Entries int64  `json:"entries"` // the number of the last one
	Hash    string `json:"hash"`    // of that one, which chains all before it
}

// Records are the job's settings for judging records. 0 = not stated, the default
// applies.
type Records struct {
	OlderThanS float64 `json:"older_than_s"` // seconds: check names an older record; 0 = none
	DepthGapM  float64 `json:"depth_gap_m"`  // the largest distance between readings across which a depth is interpolated
	DepthSlope float64 `json:"depth_slope"`  // rise over run beyond which depths disagree
}

// AboutSource is the base map's origin and the terms it was packed under.
type AboutSource struct {
	Name        string `json:"name"`
	Attribution string `json:"attribution"`
	Captured    string `json:"captured"`   // capture date as the operator states it; "" = unknown
	Reference   string `json:"reference"`  // where the terms are published
	Permission  string `json:"permission"` // who permitted, when
	// CopiesOnPhones says whether phones may keep the whole pack: [source.CopiesAllowed],
	// [source.CopiesForbidden], or "" = not stated, as in packs of earlier versions.
	CopiesOnPhones string `json:"copies_on_phones,omitempty"`
	// Drawn is what a drawn base map shows; nil for a picture taken from above.
	Drawn []Drawn `json:"drawn,omitempty"`
}

// Fetched is the span of time in which the packed tiles were fetched or last
// confirmed at the source. It is not the age of the picture.
type Fetched struct {
	Oldest time.Time `json:"oldest"`
	Newest time.Time `json:"newest"`
}

// Ahead are the times that the pack states of itself and that are later than now
// by more than [tiles.ClockSlack], under what they are of: "fetched", "written".
func (a About) Ahead(now time.Time) map[string]time.Time {
	stated := map[string]time.Time{"written": a.Packed}
	if a.Fetched != nil {
		stated["fetched"] = a.Fetched.Newest
	}
	maps.DeleteFunc(stated, func(_ string, at time.Time) bool { return !at.After(now.Add(tiles.ClockSlack)) })
	return stated
}

// Cautions are the sentences that every screen and sheet made from a pack has
// to show. The first is the shortest; the map shows it.
func Cautions(a About) []string {
	marks := words.Say("caution.marks")
	if a.OneCall != "" {
		marks = words.Say("caution.number", "number", a.OneCall) + " " + marks
	}
	all := []string{
		words.Say("caution.always"), marks, words.Say("caution.line"), words.Say("caution.depth"),
		a.Source.caution(), words.Say("caution.ticket"),
		words.Say("caution.damage"),
	}
	if a.Unconfirmed > 0 {
		all = append(all, words.Say("verdict.unconfirmed", "n", a.Unconfirmed))
	}
	if a.Tolerance != nil && a.Tolerance.EachSide > 0 {
		all = append(all, words.Say("caution.zone", "width", a.Tolerance.Text(a.Units),
			"rule", cmp.Or(a.Tolerance.Rule, words.Say("caution.no_rule"))))
	}
	return all
}

func orUnknown(s string) string {
	return cmp.Or(s, words.Say("paper.unknown"))
}

// Ticket is the one-call ticket. ValidUntil is its last valid day, YYYY-MM-DD,
// as the one-call center confirmed it; "" when not stated.
type Ticket struct {
	Number     string `json:"number"`
	ValidUntil string `json:"valid_until"`
}

// Tolerance is the local rule as the operator states it.
type Tolerance struct {
	EachSide measure.Distance `json:"each_side_m" toml:"-"`
	Stated   string           `json:"stated" toml:"-"` // EachSide in the job's own words; "" = not kept
	Rule     string           `json:"rule" toml:"rule"`

	// HideUncertainty leaves out the ground that the record's own uncertainty
	// adds round a zone; it is drawn apart otherwise.
	HideUncertainty bool `json:"hide_uncertainty" toml:"hide_uncertainty"`
}

// Text is the rule's length in the words of the job, else in the units given.
func (t Tolerance) Text(units string) string {
	if d, err := measure.ParseDistance(t.Stated); err == nil && d == t.EachSide {
		return SpaceUnit(t.Stated)
	}
	return t.EachSide.In(units)
}

// unitAfter is a number with its unit right after it.
var unitAfter = regexp.MustCompile(`([0-9])([a-z])`)

// SpaceUnit sets a number and its unit apart: "24in" becomes "24 in".
func SpaceUnit(s string) string { return unitAfter.ReplaceAllString(s, "$1 $2") }

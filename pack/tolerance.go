package pack

import (
	"regexp"

	"groundsheet/tiles/measure"
)

// Tolerance is the local rule as the operator states it.
type Tolerance struct {
	EachSide measure.Distance `json:"each_side_m"`
	Stated   string           `json:"stated"` // EachSide in the job's own words; "" = not kept
	Rule     string           `json:"rule"`

	// HideUncertainty leaves out the ground that the record's own uncertainty
	// adds round a zone; it is drawn apart otherwise.
	HideUncertainty bool `json:"hide_uncertainty"`
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

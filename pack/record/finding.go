package record

import (
	"cmp"
	"fmt"

	"groundsheet/tiles/measure"
)

// Severity says how much a finding matters.
type Severity string

// Severities, the worst first.
const (
	Fault   Severity = "fault"   // part of the record could not be used
	Warning Severity = "warning" // it may be wrong: look before you rely on it
	Note    Severity = "note"    // so that nothing happens silently
)

// Finding is something to know about a record. Findings are data: only what
// makes a file unreadable is an error.
type Finding struct {
	Kind     string   `json:"kind"` // "row", "columns", "units", "datum", "swapped axes", "coarse", "far away", "depth jump", …
	Severity Severity `json:"severity"`
	Where    string   `json:"where"`          // the overlay's file, and what in it
	Line     int      `json:"line,omitempty"` // of the file, from 1; 0 = not of one line
	Detail   string   `json:"detail"`         // what is wrong and what to do
}

// Text gives "where, line 3: detail".
func (f Finding) Text() string {
	if f.Line > 0 {
		return fmt.Sprintf("%s, line %d: %s", f.Where, f.Line, f.Detail)
	}
	return f.Where + ": " + f.Detail
}

// LengthsIn writes lengths in units, "us" where none are given.
func LengthsIn(units string) func(meters float64) string {
	return func(meters float64) string { return measure.Distance(meters).In(cmp.Or(units, "us")) }
}

// NewFinding makes a finding; line is 0 where it is not of one line of the file.
func NewFinding(kind string, s Severity, where string, line int, detail string) Finding {
	return Finding{kind, s, where, line, detail}
}

// mostUnread is how many statements that are not understood are reported one by one.
const mostUnread = 10

type tallied struct {
	text string
	n    int
}

// tally counts the texts that a function finds in the properties of features,
// each text once, in their order.
func tally(o Overlay, find func(properties map[string]any) (text string, ok bool)) (all []tallied) {
	index := map[string]int{}
	for _, f := range o.Features {
		text, ok := find(f.Properties)
		if !ok {
			continue
		}
		i, seen := index[text]
		if !seen {
			i, index[text], all = len(all), len(all), append(all, tallied{text, 0})
		}
		all[i].n++
	}
	return all
}

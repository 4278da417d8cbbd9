package record

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
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
	// "row", "columns", "units", "datum", "swapped axes", "coarse", "far away", "depth jump", …
	Kind     string   `json:"kind"`
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

// LeftOut is a row of a table that the map manager leaves out.
type LeftOut struct {
	Line int    `json:"line" toml:"line"` // of the file, from 1
	Why  string `json:"why" toml:"why"`
}

// longestWhy keeps a reason to one line on a phone, in characters (the project's
// own choice, no source).
const longestWhy = 200

// checkLeaveOut says what is wrong with the rows to leave out, or nil.
func (m Meta) checkLeaveOut() error {
	if len(m.LeaveOut) > 0 && !strings.EqualFold(filepath.Ext(m.File), ".csv") {
		return fmt.Errorf("leave_out names rows of a CSV, and %s is none: take the features out of the file itself",
			Quote(filepath.Base(m.File)))
	}
	seen := map[int]bool{}
	for _, l := range m.LeaveOut {
		switch {
		case l.Line < 1:
			return fmt.Errorf(`leave_out: line = %d is no line of a file: write { line = 18, why = "…" }, counting the lines of the file from 1`, l.Line)
		case strings.TrimSpace(l.Why) == "":
			return fmt.Errorf(`leave_out: line %d has no reason: write { line = %d, why = "…" }; the crew is told it`,
				l.Line, l.Line)
		case utf8.RuneCountInString(l.Why) > longestWhy:
			return fmt.Errorf("leave_out: the reason for line %d is longer than %d characters", l.Line, longestWhy)
		case seen[l.Line]:
			return fmt.Errorf("leave_out: line %d is named twice: keep one", l.Line)
		}
		seen[l.Line] = true
	}
	return nil
}

// without removes rows from a table. A line that is no row of it is refused: a
// wrong number would leave the wrong row on the map.
func (t Table) without(left []LeftOut) (Table, error) {
	if len(left) == 0 {
		return t, nil
	}
	out := map[int]bool{}
	for _, l := range left {
		out[l.Line] = true
	}
	rows := slices.DeleteFunc(slices.Clone(t.Rows), func(r TableRow) bool { return out[r.Line] })
	for _, l := range left {
		if !slices.ContainsFunc(t.Rows, func(r TableRow) bool { return r.Line == l.Line }) {
			return t, fmt.Errorf("leave_out: line %d is no row of the file%s: fix the number", l.Line, t.span())
		}
	}
	if len(rows) == 0 {
		return t, fmt.Errorf("leave_out names every row: take the [[overlay]] out of the job instead, so that nobody takes the record for an empty one")
	}
	t.Rows = rows
	return t, nil
}

func (t Table) span() string {
	if len(t.Rows) == 0 {
		return ", which has none"
	}
	return fmt.Sprintf(", whose rows begin on line %d and end on line %d", t.Rows[0].Line, t.Rows[len(t.Rows)-1].Line)
}

// mostLeftOut is how many rows are listed.
const mostLeftOut = 10

// LeftOutText is a sentence on the rows of a record that the map manager left out,
// with the reasons; "" for none.
func LeftOutText(title string, rows []LeftOut) string {
	if len(rows) == 0 {
		return ""
	}
	var each []string
	for _, l := range rows[:min(len(rows), mostLeftOut)] {
		each = append(each, words.Say("leftout.row", "line", l.Line, "why", l.Why))
	}
	if more := len(rows) - mostLeftOut; more > 0 {
		each = append(each, words.Say("leftout.more", "n", more))
	}
	return words.Say("leftout.rows", "n", len(rows), "record", title, "rows", strings.Join(each, "; "))
}

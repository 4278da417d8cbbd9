package overlay

import (
	"cmp"
	"fmt"
	"strings"

	"groundsheet/tiles/measure"
)

// Severity says how much a finding matters.
type Severity string

// Severities, the worst first.
const (
	Fault   Severity = "fault"   // part of the record could not be used
	Warning Severity = "warning" // it may be wrong: look before you rely on it
	Note    Severity = "note"    // told so that nothing happens silently
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

// lengthsIn tells lengths in units, "us" where none are given.
func lengthsIn(units string) func(metres float64) string {
	return func(metres float64) string { return measure.Distance(metres).In(cmp.Or(units, "us")) }
}

// SafeCell makes a text safe for a CSV cell: a spreadsheet takes what begins
// with = + - @, a tab or a line end for a formula, so such a text gets a quote
// before it unless it is a plain number. Control characters become blanks, and
// marks that turn the direction of writing are taken out.
func SafeCell(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == 0x200e, r == 0x200f, r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
			return -1
		case r < ' ', r >= 0x7f && r < 0xa0:
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	first := strings.TrimLeft(s, " \u00a0\ufeff")
	if first == "" || !strings.ContainsRune("=+-@＝＋－＠|%", []rune(first)[0]) {
		return s
	}
	if _, plain := plainNumber(s); plain {
		return s
	}
	return "'" + s
}

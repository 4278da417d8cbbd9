package record

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"groundsheet/tiles/words"
)

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
		return fmt.Errorf("leave_out names rows of a CSV, and %s is none: take the features out of the file itself", Quote(filepath.Base(m.File)))
	}
	seen := map[int]bool{}
	for _, l := range m.LeaveOut {
		switch {
		case l.Line < 1:
			return fmt.Errorf(`leave_out: line = %d is no line of a file: write { line = 18, why = "…" }, counting the lines of the file from 1`, l.Line)
		case strings.TrimSpace(l.Why) == "":
			return fmt.Errorf(`leave_out: line %d has no reason: write { line = %d, why = "…" }; the crew is told it`, l.Line, l.Line)
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

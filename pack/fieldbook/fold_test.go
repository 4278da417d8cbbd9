package fieldbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"testing"
)

// foldEntry is an entry of testdata/fold.json: its number as an ID, what it follows, its
// action, the time of day by its phone, and how far that was ahead in seconds.
type foldEntry [5]any

func (e foldEntry) id() string { return fmt.Sprintf("%032.0f", e[0]) }

// TestFoldCases: what leads is one thing on the laptop and on the phone. The page's tests
// read the same file.
func TestFoldCases(t *testing.T) {
	var cases []struct {
		Name             string
		Entries          []foldEntry
		Leading, Written float64
		Rivals           []float64
		Ring             bool
	}
	text, err := os.ReadFile("testdata/fold.json")
	if err == nil {
		err = json.Unmarshal(text, &cases)
	}
	if err != nil || len(cases) < 10 {
		t.Fatalf("%d cases, %v", len(cases), err)
	}
	for _, c := range cases {
		if c.Ring {
			continue // the first entry of a mark follows none here: see TestRing
		}
		var all []Entry
		for _, e := range c.Entries {
			var after []string
			for _, n := range e[1].([]any) {
				after = append(after, foldEntry{n}.id())
			}
			one := reading("").with("id", e.id()).with("mark", foldEntry{1.0}.id()).with("after", after).with("action", e[2]).
				with("clock", "2031-05-06T"+e[3].(string)+"Z").with("clock_ahead_s", e[4])
			if e[2] != "write" {
				one = one.with("feature", nil).with("why", "a mistake")
			}
			all = append(all, Entry{ID: e.id(), Text: one.text(t)})
		}
		marks := Fold(all)
		if len(marks) != 1 || len(marks[0].All) != len(all) {
			t.Errorf("%s: %+v", c.Name, marks)
			continue
		}
		var rivals, want []string
		for _, r := range marks[0].Rivals {
			rivals = append(rivals, r.ID)
		}
		for _, n := range c.Rivals {
			want = append(want, foldEntry{n}.id())
		}
		if m := marks[0]; m.Leading.ID != (foldEntry{c.Leading}).id() || !slices.Equal(rivals, want) || m.Written.ID != (foldEntry{c.Written}).id() {
			t.Errorf("%s: %s leads, rivals %v, %s is written", c.Name, m.Leading.ID, rivals, m.Written.ID)
		}
	}
}

// TestTakenStaysTaken: a text that was ever taken is taken by every later program, or the
// books of earlier days would read as broken. Lines are added to the file, never changed: a
// stricter rule is one of a new layout.
func TestTakenStaysTaken(t *testing.T) {
	all, err := os.ReadFile("testdata/taken.txt")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for line := range bytes.Lines(all) {
		if _, err := Parse(bytes.TrimSpace(line)); err != nil {
			t.Errorf("%v: %s", err, line)
		}
		n++
	}
	if n < 9 {
		t.Errorf("only %d texts", n)
	}
}

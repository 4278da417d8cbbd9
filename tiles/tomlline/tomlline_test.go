package tomlline

import (
	"errors"
	"strings"
	"testing"
)

const job = `# a job
name = "x"   # margin
margin = "50ft"
area = [
  "a.geojson",
]

[[around]]
center = "1,2"

[[around]]
center = """
[[around]]
"""
radius = "3ft"

[a-b.terms]
hours = ["1"]
"odd key" = { x = 1 }
`

func TestLines(t *testing.T) {
	keys := Read([]byte(job))
	for path, want := range map[string]int{
		"name": 2, "margin": 3, "area": 4, "around[0]": 8, "around[0].center": 9, "around[0].radius": 8, "around[1]": 11, "around[1].center": 12,
		"around[1].radius": 15, "a-b.terms.hours": 18, "a-b.terms.contact": 17, "a-b.terms.odd key": 19, "none": 0, "": 0,
	} {
		if got := keys.Line(path); got != want {
			t.Errorf("%q: line %d, want %d", path, got, want)
		}
	}
	for _, c := range []struct {
		table, message string
		want           int
	}{
		{"", `margin is 50 mi, and name`, 3}, {"", "no base map", 0}, {"around[1]", `"center": radius is too small`, 15},
		{"around[0]", "it has no radius", 8}, {"", "margins are odd", 0},
	} {
		if got := keys.LineNamedIn(c.table, c.message); got != c.want {
			t.Errorf("%q in %q: line %d, want %d", c.message, c.table, got, c.want)
		}
	}
	key, found := keys.FirstFailing(func(b []byte) error {
		if strings.Contains(string(b), "3ft") {
			return errors.New("no")
		}
		return nil
	})
	if !found || key.Path != "around[1].radius" || key.Line != 15 {
		t.Errorf("%+v, %v", key, found)
	}
	if _, found := keys.FirstFailing(func([]byte) error { return nil }); found {
		t.Error("blamed without cause")
	}
}

// FuzzRead: no text makes it fail, and lines are lines of the text.
func FuzzRead(f *testing.F) {
	f.Add(job)
	f.Add("a = [\n[[x]]\n")
	f.Fuzz(func(t *testing.T, text string) {
		for _, k := range Read([]byte(text)) {
			if k.Line < 1 || k.Line > strings.Count(text, "\n")+1 {
				t.Errorf("%q: %+v", text, k)
			}
		}
	})
}

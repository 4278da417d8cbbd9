package office

import (
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

// TestStandInStaysACaution: what the source could not confirm is counted in the
// pack, holes apart, and every later check tells it, until it is confirmed.
func TestStandInStaysACaution(t *testing.T) {
	o, _ := bench(t)
	edge := tiles.At(-140.5, 40.5, 20).Bounds() // the town ends within the job: holes
	town := tiles.Box{West: -141, South: 40, East: edge.West, North: 41}
	open := func() {
		again, err := practice.Start(t.Context(), "", practice.Options{BusyEvery: -1, MaxAge: time.Hour, Area: &town})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = again.Close() })
		o.Source.URL = again.URL
	}
	open()
	start := time.Now()
	first := run(t, o, start)
	if first.Absent == 0 || first.StoodIn != 0 {
		t.Fatalf("%+v", first)
	}
	o.Source.URL = "http://127.0.0.1:1/{z}/{x}/{y}.jpg" // nobody answers there
	late := start.Add(25 * time.Hour)
	for _, again := range []string{"first", "not rewritten"} {
		b := o.base(t, late)
		b.office.Fetch.StandIn = true
		r, err := b.pack(t.Context())
		if err != nil {
			t.Fatal(again, err)
		}
		if r.StoodIn != r.Tiles || r.Absent != first.Absent || r.Rewritten != (again == "first") {
			t.Errorf("%s: a hole is counted as a tile: %+v", again, r)
		}
		if n := cautioned(t, r.File); n != r.StoodIn {
			t.Errorf("%s: the run says %d, the pack %d", again, r.StoodIn, n)
		}
	}
	open()
	if r := run(t, o, late); r.StoodIn != 0 || !r.Rewritten || cautioned(t, r.File) != 0 {
		t.Errorf("confirmed, and still a caution: %+v", r)
	}
}

// cautioned is how many unconfirmed tiles a pack states; check and the cautions
// say the same.
func cautioned(t *testing.T, path string) int64 {
	t.Helper()
	p, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	n := p.Info.About.Unconfirmed
	r, err := check.Run(t.Context(), path, check.Options{})
	if err != nil || r.Verdict != check.Fit {
		t.Fatal(err, r.Verdict)
	}
	told := slices.ContainsFunc(r.Findings, func(f check.Finding) bool {
		return f.Kind == "unconfirmed" && f.Severity == check.Warning && strings.Contains(f.Detail, "could not confirm")
	})
	inCautions := slices.ContainsFunc(pack.Cautions(p.Info.About), func(s string) bool { return strings.Contains(s, "could not confirm") })
	if told != (n > 0) || inCautions != (n > 0) {
		t.Errorf("%d tiles; check tells it: %v, the cautions: %v", n, told, inCautions)
	}
	return n
}

package office

import (
	"strings"
	"testing"
	"time"

	"groundsheet/pack/check"
)

// TestClockThatWasWrong: what was fetched under a clock far ahead is asked for
// again when the clock is right, also when nothing of it changed, and the pack
// loses the wrong times.
func TestClockThatWasWrong(t *testing.T) {
	for _, wrong := range []time.Duration{40 * 24 * time.Hour, 100 * 8766 * time.Hour} {
		o, _ := bench(t)
		now := time.Now()
		first := run(t, o, now.Add(wrong))
		p := o.draw(t, now)
		if p.Ahead() != p.Tiles || p.Fetch != p.Tiles {
			t.Errorf("%v: %d of %d tiles are ahead, %d to fetch", wrong, p.Ahead(), p.Tiles, p.Fetch)
		}
		clocks := func() int {
			r, err := check.Run(t.Context(), first.File, check.Options{Now: func() time.Time { return now }})
			if err != nil || r.Verdict != check.Fit {
				t.Fatal(err, r)
			}
			return r.Counts["clock"]
		}
		if n := clocks(); n != 2 {
			t.Errorf("check warns %d times", n)
		}
		again := run(t, o, now)
		if again.Unchanged+again.Fetched+again.Absent != p.Tiles || !again.Rewritten || clocks() != 0 {
			t.Errorf("%v: %+v", wrong, again)
		}
		if p := o.draw(t, now); p.Ahead() != 0 || p.Fetch != 0 {
			t.Errorf("%v: still %d ahead, %d to fetch", wrong, p.Ahead(), p.Fetch)
		}
	}
}

// TestClockAheadStandsIn: such a tile stands in only when told to, and then it
// counts as not confirmed.
func TestClockAheadStandsIn(t *testing.T) {
	o, _ := bench(t)
	now := time.Now()
	first := run(t, o, now.AddDate(1, 0, 0))
	o.Source.URL = "http://127.0.0.1:1/{z}/{x}/{y}.jpg" // nobody answers there
	b := o.base(t, now)
	if _, err := b.pack(t.Context()); err == nil || !strings.Contains(err.Error(), "cannot be reached") {
		t.Errorf("%v", err)
	}
	b.office.Fetch.StandIn = true
	if r, err := b.pack(t.Context()); err != nil || r.StoodIn != first.Tiles {
		t.Errorf("%+v, %v", r, err)
	}
}

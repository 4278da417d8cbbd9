package plan

import (
	"testing"
	"time"

	"groundsheet/tiles/source"
)

// TestEnds: fetching goes on only in the hours and as far as the quota of a day goes.
func TestEnds(t *testing.T) {
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 5, day, hour, minute, 0, 0, time.UTC) }
	night, err := source.ParseHours([]string{"20:00-06:00"}, "UTC")
	if err != nil {
		t.Fatal(err)
	}
	utc, err := source.ParseHours([]string{"00:00-24:00"}, "UTC")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		terms     source.Terms
		fetch     int64
		seconds   float64
		spent     int
		now, want time.Time
	}{
		"at once":               {source.Terms{}, 3600, 3600, 0, at(1, 12, 0), at(1, 13, 0)},
		"nothing to fetch":      {source.Terms{Hours: night}, 0, 0, 0, at(1, 12, 0), at(1, 12, 0)},
		"from the evening on":   {source.Terms{Hours: night}, 3600, 3600, 0, at(1, 12, 0), at(1, 21, 0)},
		"two nights":            {source.Terms{Hours: night}, 12 * 3600, 12 * 3600, 0, at(1, 12, 0), at(2, 22, 0)},
		"three days":            {source.Terms{Hours: utc, TilesPerDay: 1000}, 2500, 2500, 0, at(1, 12, 0), at(3, 0, 8)},
		"the rest of today":     {source.Terms{Hours: utc, TilesPerDay: 1000}, 700, 700, 400, at(1, 12, 0), at(2, 0, 1)},
		"nothing left of today": {source.Terms{Hours: utc, TilesPerDay: 1000}, 60, 60, 1000, at(1, 12, 0), at(2, 0, 1)},
	} {
		p := Plan{Source: source.Source{Terms: &c.terms}}
		p.Fetch, p.Seconds = c.fetch, c.seconds
		if got, ok := p.Ends(c.now, c.spent); !ok || !got.Truncate(time.Minute).Equal(c.want) {
			t.Errorf("%s: %v %v, want %v", name, got, ok, c.want)
		}
	}
	p := Plan{Source: source.Source{Terms: &source.Terms{TilesPerDay: 1}}}
	p.Fetch, p.Seconds = 1e6, 1
	if _, ok := p.Ends(at(1, 12, 0), 0); ok {
		t.Error("it ends within years")
	}
}

package measure

import (
	"testing"
	"time"
)

func TestMoment(t *testing.T) {
	was := time.Local
	defer func() { time.Local = was }()
	for _, c := range []struct {
		zone *time.Location
		at   string
		want string
	}{
		{time.UTC, "2026-11-28T22:57:00Z", "2026-11-28 22:57 UTC"},
		{time.FixedZone("MST", -7*3600), "2026-11-28T22:57:00Z", "2026-11-28, 3:57 PM MST (22:57 UTC)"},
		{time.FixedZone("MST", -7*3600), "2026-11-28T03:05:00Z", "2026-11-27, 8:05 PM MST (2026-11-28 03:05 UTC)"},
		{time.FixedZone("GMT", 0), "2026-11-28T22:57:00Z", "2026-11-28 22:57 UTC"},
	} {
		at, err := time.Parse(time.RFC3339, c.at)
		if err != nil {
			t.Fatal(err)
		}
		time.Local = c.zone
		if got := Moment(at); got != c.want {
			t.Errorf("%s in %s: %q, want %q", c.at, c.zone, got, c.want)
		}
	}
}

package derive

import (
	"regexp"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// TestFindingsTellLengthsInTheJobsUnits: in either units no finding names a
// length in the other's, and the numbers are those of the ground: a station of
// 12.5 m is 41 ft.
func TestFindingsTellLengthsInTheJobsUnits(t *testing.T) {
	w := func(x, off, depth, current float64) map[string]any {
		return map[string]any{"x": x, "off": off, "depth_m": depth, "current_ma": current}
	}
	features := []map[string]any{w(0, 0, 1, 20), w(12.5, 1.5, 1, 20), w(15, 0, 2, 20), w(30, 0, 2, 5), w(30, 0.01, 2, 5), w(50, 0, 2, 5), w(60, 0, 3.5, 5), w(70, 0, 2, 5), w(80, 60, 2, 5), w(90, 0, 41, 5)}
	water := recordOf(t, "w", "water", lineOf(map[string]any{"line": "W"}, at(0, 0), at(100, 0)), lineOf(nil, at(40, 0.4), at(40, 30)))
	for _, p := range features {
		water.Features = append(water.Features, reading("W", at(p["x"].(float64), p["off"].(float64)), p))
	}
	away := recordOf(t, "g", "gas", lineOf(nil, orb.Point{-105.5, 40}, orb.Point{-105.5, 40.5}))
	away.Datum = "NAD27"
	silent := recordOf(t, "s", "sewer", lineOf(nil, orb.Point{-105, 40}, orb.Point{-105.1, 40.1}))
	silent.Datum = "NAD83(2011)"
	area := orb.MultiPolygon{{{at(-20, -20), at(20, -20), at(20, 20), at(-20, 20), at(-20, -20)}}}
	for units, c := range map[string]struct {
		other *regexp.Regexp
		says  []string
	}{
		"us": {regexp.MustCompile(`\d (m|cm|km|meters?)\b`), []string{
			"station 41 ft: the reading is 4.92 ft off its line", "station 49.2 ft: the depth changes by 3.28 ft within 8.2 ft", "is more than 32.8 ft from it",
			"station 197 ft: the depth differs by at least 4.92 ft from the readings before and after it, which are 65.6 ft apart", "this may be a tee", "within 1.97 in of the reading",
			"which in most places is 30 ft or more away", "3 ft or more away", "1 record is more than 3.11 mi from the job", "depth is more than 40 ft", "15.7 in from",
		}},
		"metric": {regexp.MustCompile(`\d (ft|in|mi)\b`), []string{
			"station 12.5 m: the reading is 1.5 m off its line", "within 5 cm of the reading", "which in most places is 10 m or more away", "1 record is more than 5 km from the job", "depth is more than 12.2 m", "40 cm from",
		}},
	} {
		told := ""
		for _, f := range From([]record.Overlay{water, away, silent}, area, Options{SanityOptions: record.SanityOptions{Units: units}}).Findings {
			told += f.Detail + "\n"
			if found := c.other.FindString(f.Detail); found != "" {
				t.Errorf("%s: %q in %q", units, found, f.Detail)
			}
		}
		for _, says := range c.says {
			if !strings.Contains(told, says) {
				t.Errorf("%s: %q is not told in:\n%s", units, says, told)
			}
		}
	}
}

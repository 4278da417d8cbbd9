package record

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// GeoJSON with four decimals (11 m), depths of 41 m and 99 m, and depths of 3.5
// in are questioned as those of a table are; usual ones are not.
func TestAnyFormatIsLookedAt(t *testing.T) {
	site := orb.Bound{Min: orb.Point{-105.01, 39.99}, Max: orb.Point{-104.99, 40.01}}
	fine, round := orb.LineString{at(0, 0), at(7, 9), at(20, 3)}, orb.LineString{{-105.0012, 40.0003}, {-105.0011, 40.0009}, {-105.0013, 40.0007}}
	for name, c := range map[string]struct {
		path  orb.LineString
		props map[string]any
		kind  string
		says  string
	}{
		"four decimals": {round, nil, "coarse", "4 decimals of a degree, a step of 36.5 ft on the ground: readings need 7"},
		"41 m":          {fine, map[string]any{"depth_m": 41.0}, "units", "1 depth is more than 40 ft (feature)"},
		"41 ft":         {fine, map[string]any{"depth_ft": 41.0}, "units", "is the unit right?"},
		"99 m in words": {fine, map[string]any{"depth": "99 m"}, "units", "is the unit right?"},
		"3.5 in":        {fine, map[string]any{"depth_in": 3.5}, "units", "are they in feet?"},
		"usual":         {fine, map[string]any{"depth_ft": 3.5}, "", ""},
	} {
		found := ""
		for _, f := range CheckSanity(recordOf(t, "g", "gas", lineOf(c.props, c.path...)), site, SanityOptions{}) {
			if f.Kind == "coarse" || f.Kind == "units" {
				found += f.Kind + ": " + f.Detail + "\n"
			}
		}
		if !strings.HasPrefix(found, c.kind) || !strings.Contains(found, c.says) || c.kind == "" && found != "" {
			t.Errorf("%s: %q", name, found)
		}
	}
}

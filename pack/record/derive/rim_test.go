package derive

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// TestRimOfACircle: 64 short lines 10 in inside the rim of a 300-ft circle all
// enter the dig area; 64 that are 2 ft outside do not. Likewise round the end
// of a corridor.
func TestRimOfACircle(t *testing.T) {
	corridor := area.Area{Strips: []area.Strip{{Line: orb.LineString{at(0, 0), at(-500, 0)}, HalfWidth: 300 * measure.Foot}}}
	circle := area.Area{Discs: []area.Disc{{Center: at(0, 0), Radius: 300 * measure.Foot}}}
	for _, c := range []struct {
		name  string
		dig   area.Area
		lines int
		off   float64 // meters from the rim, inward
		want  int
	}{
		{"circle, inside", circle, 64, 10 * measure.Inch, 64},
		{"circle, outside", circle, 64, -2 * measure.Foot, 0},
		{"corridor's end, inside", corridor, 31, 10 * measure.Inch, 31},
		{"corridor's end, outside", corridor, 31, -2 * measure.Foot, 0},
	} {
		var features []geojson.Feature
		for i := range c.lines {
			angle := 2 * math.Pi * float64(i-c.lines/2) / 64
			sin, cos := math.Sincos(angle)
			r := 300*measure.Foot - c.off
			x, y := r*cos, r*sin
			features = append(features, lineOf(map[string]any{"name": fmt.Sprint(i)}, at(x+0.01*sin, y-0.01*cos), at(x-0.01*sin, y+0.01*cos)))
		}
		known := From([]record.Overlay{recordOf(t, "gas", "gas", features...)}, c.dig.Outline(0), Options{})
		entered := 0
		for _, e := range known.Entries {
			if e.Kind == Enters {
				entered++
			}
		}
		if entered != c.want {
			t.Errorf("%s: %d lines enter the dig area, want %d", c.name, entered, c.want)
		}
	}
}

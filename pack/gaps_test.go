package pack

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
)

// TestGaps: a dig area of 40 m by 40 m; what is recorded within 50 ft (15.24 m)
// of it counts, and no file that merely is there.
func TestGaps(t *testing.T) {
	middle := geodesic.At(orb.Point{-105, 40})
	at := func(east, north float64) orb.Point { return middle.Degrees(orb.Point{east, north}) }
	area := orb.MultiPolygon{orb.Bound{Min: at(-20, -20), Max: at(20, 20)}.ToPolygon()}
	line := func(a, b orb.Point) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[%.9f,%.9f],[%.9f,%.9f]]}}`, a[0], a[1], b[0], b[1])
	}
	reading := func(p orb.Point) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{"line":"L"},"geometry":{"type":"Point","coordinates":[%.9f,%.9f]}}`, p[0], p[1])
	}
	face := func(half float64) string {
		a, b := at(-half, -half), at(half, half)
		return fmt.Sprintf(`{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[%[1]v,%[2]v],[%[3]v,%[2]v],[%[3]v,%[4]v],[%[1]v,%[4]v],[%[1]v,%[2]v]]]}}`, a[0], a[1], b[0], b[1])
	}
	for name, c := range map[string]struct {
		file   string // "" = no gas overlay at all
		margin float64
		gap    bool
	}{
		"no overlay":                 {"-", 0, true},
		"no features":                {"", 0, true},
		"without a place":            {`{"type":"Feature","properties":{},"geometry":null}`, 0, true},
		"abandoned across":           {strings.Replace(line(at(-100, 0), at(100, 0)), `"properties":{}`, `"properties":{"status":"abandoned"}`, 1), 0, true},
		"17 m away, 10 ft off":       {strings.Replace(line(at(-10, 37), at(10, 37)), `"properties":{}`, `"properties":{"accuracy":"10 ft"}`, 1), 0, false},
		"280 m away":                 {line(at(-10, 300), at(10, 300)), 0, true},
		"15.5 m away":                {line(at(-10, 35.5), at(10, 35.5)), 0, true},
		"15 m away":                  {line(at(-10, 35), at(10, 35)), 0, false},
		"15.5 m away, 20 m margin":   {line(at(-10, 35.5), at(10, 35.5)), 20, false},
		"across":                     {line(at(-100, 0), at(100, 0)), 0, false},
		"inside":                     {line(at(-1, 0), at(1, 0)), 0, false},
		"a reading inside":           {reading(at(0, 0)), 0, false},
		"a reading away":             {reading(at(0, 100)), 0, true},
		"readings on both sides":     {reading(at(-100, 0)) + "," + reading(at(100, 0)), 0, false},
		"a face round all":           {face(500), 0, false},
		"a box round all, lines not": {line(at(-100, 100), at(-100, -100)) + "," + line(at(-100, -100), at(100, -100)), 0, true},
	} {
		var all []record.Overlay
		if c.file != "-" {
			o, err := record.Read([]byte(`{"type":"FeatureCollection","features":[`+c.file+`]}`), record.Meta{File: "gas.geojson", Utility: "gas"}, "gas")
			if err != nil {
				t.Fatal(name, err)
			}
			all = append(all, o)
		}
		missing, nothing := Gaps([]string{"gas", "water"}, all, area, c.margin)
		if got := slices.Contains(missing, "gas"); got != c.gap || !slices.Contains(missing, "water") || slices.Contains(nothing, "water") {
			t.Errorf("%s: missing %v, nothing here %v", name, missing, nothing)
		}
		only := OnlyNear([]string{"gas", "water"}, missing, all, area)
		if want := strings.Contains(name, "m away") && !c.gap; slices.Contains(only, "gas") != want {
			t.Errorf("%s: only near %v", name, only)
		}
		if got := slices.Contains(nothing, "gas"); got != (c.gap && c.file != "-") {
			t.Errorf("%s: nothing here %v", name, nothing)
		}
	}
}

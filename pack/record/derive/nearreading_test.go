package derive

import (
	"testing"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// TestNearReading: at a crossing without a depth the nearest reading of the
// utility within 3 m is told, whatever record it is of, and nothing else changes.
func TestNearReading(t *testing.T) {
	gas := recordOf(t, "g", "gas", lineOf(pipe("24in", "top", "4 in"), at(-20, 0), at(20, 0)))
	water := func(f ...geojson.Feature) record.Overlay {
		return recordOf(t, "w", "water", append([]geojson.Feature{lineOf(nil, at(0, -20), at(0, 20))}, f...)...)
	}
	other := func(f ...geojson.Feature) record.Overlay { return recordOf(t, "x", "water", f...) }
	for name, c := range map[string]struct {
		records []record.Overlay
		m       float64 // 0 = none is told
		own     bool
	}{
		"none":                      {[]record.Overlay{gas, water()}, 0, false},
		"of another record":         {[]record.Overlay{gas, water(), other(reading("", at(0.3, 0), depth(1)), reading("", at(1, 1), depth(2)))}, 1, false},
		"of its own record":         {[]record.Overlay{gas, water(reading("", at(0.3, 1), depth(1.5))), other(reading("", at(2, 1), depth(2)))}, 1.5, true},
		"too far":                   {[]record.Overlay{gas, water(), other(reading("", at(2.2, 2.2), depth(1)))}, 0, false},
		"without a depth":           {[]record.Overlay{gas, water(), other(reading("", at(0.3, 0), nil))}, 0, false},
		"of another utility":        {[]record.Overlay{gas, water(), recordOf(t, "s", "sewer", reading("", at(0.3, 0), depth(1)))}, 0, false},
		"of the line that is known": {[]record.Overlay{gas, water(), recordOf(t, "h", "gas", reading("", at(0.3, 0), depth(1)))}, 0, false},
	} {
		k := From(c.records, square(50), Options{Rules: []Rule{{Between: [2]string{"gas", "water"}, Vertical: inches(12), By: "sheet 4"}}})
		x := k.Crossings[0]
		got := x.Depths[1].Near
		if (got != nil) != (c.m != 0) || x.Depths[0].Near != nil {
			t.Errorf("%s: %+v", name, x.Depths)
		} else if got != nil && (got.M != c.m || got.Own != c.own || (got.Overlay == "w") != c.own) {
			t.Errorf("%s: %+v", name, got)
		}
		if x.Kind != DepthUnknown || x.Depths[1].M != nil || x.Rules[0].Verdict != NotKnown || x.SeparationM != nil {
			t.Errorf("%s: it tells on the crossing: %+v", name, x)
		}
	}
}

// A line whose depth is known is told of no other reading.
func TestNoNearReadingWhereTheDepthIsKnown(t *testing.T) {
	k := From([]record.Overlay{recordOf(t, "g", "water", lineOf(pipe("24in", "top", "4 in"), at(-20, 0), at(20, 0))), recordOf(t, "w", "water", lineOf(nil, at(0, -20), at(0, 20)), reading("", at(0.3, 1), depth(1.5)))}, nil, Options{})
	if d := k.Crossings[0].Depths; d[0].Near != nil || d[1].Near == nil {
		t.Errorf("%+v", d)
	}
}

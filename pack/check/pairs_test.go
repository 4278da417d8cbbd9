package check

import (
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// pairsPack packs a gas main, a water main that crosses it, one half a meter beside it,
// and a service that ends 8 in (0.2 m) short of it; places are meters east and north.
func pairsPack(t *testing.T, rules []derive.Rule, old bool) string {
	t.Helper()
	at := func(east, north float64) orb.Point {
		return geodesic.At(site(0.5, 0.5)).Degrees(orb.Point{east, north})
	}
	pipe := func(depth string) map[string]any {
		return map[string]any{"size": "4 in", "depth": depth, "depth_of": "top", "depth_accuracy": "1 in", "accuracy": "1 in"}
	}
	add := func(id, utility string, features ...geojson.Feature) record.Overlay {
		return recorded(t, record.Meta{File: id + ".geojson", Title: id, Utility: utility, QualityLevel: "C", Recorded: "2024-05-01", Datum: "WGS 84"}, id, features...)
	}
	overlays := []record.Overlay{
		add("1-gas", "gas", line(pipe("24in"), at(-20, 0), at(20, 0)), line(nil, at(9, 0.2), at(9, 9))),
		add("2-water", "water", line(pipe("36in"), at(0, -20), at(0, 20)), line(pipe("36in"), at(-20, 0.5), at(-10, 0.5))),
		add("3-sewer", "sewer", line(nil, at(5, -20), at(5, 20))),
	}
	k := derive.From(overlays, nil, derive.Options{Rules: rules})
	if old {
		k.ParallelRuns = nil
	}
	path := filepath.Join(t.TempDir(), "k.mbtiles")
	box, _ := deep.Bounds()
	h := whole(t)
	packed, err := pack.Overlays(overlays, box)
	if err != nil {
		t.Fatal(err)
	}
	c := pack.Content{About: about(), Bounds: box, Covers: []tiles.Cover{shallow, deep}, Area: []byte(`{}`), Overlays: packed, Derived: &k, Tiles: h}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestPairs(t *testing.T) {
	rules := []derive.Rule{{Between: [2]string{"gas", "any"}, Vertical: &derive.MinClearance{M: 0.3048, Stated: "12 in"}, Horizontal: &derive.MinClearance{M: 1.524, Stated: "5 ft"}, By: "sheet 4"}}
	r := verdict(t, pairsPack(t, rules, false), Options{})
	for _, c := range []struct{ kind, severity, says string }{
		{"beside", Warning, "gas line 1-gas/1 and water line 2-water/2 run beside one another over"},
		{"end", Warning, "1-gas/2: as recorded gas "},
		{"rule", Warning, "gas line 1-gas/1 and water line 2-water/1 cross at "},
		{"rule", Warning, ": clearance rule of 12 in (sheet 4): not met as recorded; within the stated doubts there is"},
		{"rule", Warning, "gas line 1-gas/1 and water line 2-water/2 run beside one another: clearance rule of 5 ft (sheet 4): not met as recorded"},
		{"rule", Note, "at 1 of 3 places it is not known whether a clearance rule"},
	} {
		if !has(r, c.kind, c.severity, c.says) {
			t.Errorf("%s %s %q is not told: %+v", c.severity, c.kind, c.says, r.Findings)
		}
		if kinds[c.kind] == "" {
			t.Errorf("the kind %q is not explained", c.kind)
		}
	}
	if r.Verdict != Fit || r.Counts["rule"] != 3 || r.Counts["beside"] != 1 || r.Counts["end"] != 1 {
		t.Errorf("%+v", r)
	}
	if r := verdict(t, pairsPack(t, nil, false), Options{}); r.Counts["rule"] != 0 {
		t.Errorf("judged by no rule: %+v", r)
	}
	if r := verdict(t, pairsPack(t, nil, true), Options{}); !has(r, "beside", Note, "does not tell") || r.Counts["beside"] != 1 {
		t.Errorf("%+v", r)
	}
}

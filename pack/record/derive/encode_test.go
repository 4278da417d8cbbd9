package derive

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// knownSite is a water main along readings, a gas line that crosses it with a
// depth, a sewer that crosses it without, and one reading alone.
func knownSite(t testing.TB) ([]record.Overlay, orb.MultiPolygon) {
	t.Helper()
	make := func(id, utility string, features ...geojson.Feature) record.Overlay {
		o, err := record.New(features, record.Meta{File: id + ".geojson", Utility: utility}, id)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	area := orb.MultiPolygon{{{at(-5, -5), at(15, -5), at(15, 5), at(-5, 5), at(-5, -5)}}}
	return []record.Overlay{
		make("w", "water", reading("W1", at(0, 0), map[string]any{"depth_m": 1.0, "accuracy_m": 0.1, "depth_of": "top"}), reading("W1", at(10, 0), map[string]any{"depth_m": 1.2, "depth_of": "top"}), reading("W1", at(20, 0), depth(1.1)), reading("W2", at(3, 3), depth(1))),
		make("g", "gas", lineOf(map[string]any{"line": "G", "size": "2 in", "depth_m": 0.6, "depth_of": "top", "label": "2 in PE"}, at(5, -20), at(5, 20))),
		make("s", "sewer", lineOf(map[string]any{"label": "10 in"}, at(15.5, -20), at(15.5, 20))),
	}, area
}

func TestKnownReadsBack(t *testing.T) {
	overlays, area := knownSite(t)
	k := From(overlays, area, Options{EachSide: 0.6, Uncertainty: true})
	p, err := k.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if k.Zones[0].Shape == nil {
		t.Error("writing took the shapes away")
	}
	back, err := Decode(p)
	if err != nil {
		t.Fatal(err)
	}
	for i, z := range back.Zones { // nine decimals of a degree
		if len(z.Shape) != len(k.Zones[i].Shape) || len(z.Uncertain) != len(k.Zones[i].Uncertain) {
			t.Errorf("zone %s has other shapes", z.Line)
		}
		back.Zones[i].Shape, back.Zones[i].Uncertain = k.Zones[i].Shape, k.Zones[i].Uncertain
	}
	if !reflect.DeepEqual(k, back) {
		t.Errorf("%+v\nis not\n%+v", back, k)
	}
	again, err := From(overlays, area, Options{EachSide: 0.6, Uncertainty: true}).Encode()
	if err != nil || string(again.Facts) != string(p.Facts) || string(again.Features) != string(p.Features) {
		t.Error("equal knowledge gives other bytes", err)
	}
}

func TestFeaturesForTheMap(t *testing.T) {
	overlays, area := knownSite(t)
	k := From(overlays, area, Options{EachSide: 0.6, Uncertainty: true})
	parts := map[string]int{}
	for _, f := range k.Features() {
		parts[f.Properties["part"].(string)]++
		if f.Properties["part"] == partEntry && f.Properties["name"] == "G" {
			inside := f.Geometry.(orb.MultiLineString)
			near(t, "southern end of what is inside", inside[0][0][1], at(5, -5)[1], 1e-8)
			near(t, "northern end of what is inside", inside[0][len(inside[0])-1][1], at(5, 5)[1], 1e-8)
		}
	}
	if want := map[string]int{partZone: 4, partDoubt: 1, partLine: 1, partEntry: 4, partCrossing: 2}; !reflect.DeepEqual(parts, want) {
		t.Errorf("%v, want %v", parts, want)
	}
	p, err := k.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, says := range []string{`"number":1`, `"relation":"vertical relation unknown"`, `"relation":"gas is recorded above water"`, `"names":["W1","G"]`, `"names":["W1","10 in"]`, `"separation_m":null`} {
		if !strings.Contains(string(p.Features), says) {
			t.Errorf("%s is not in %s", says, p.Features)
		}
	}
}

func TestReadKnownRefuses(t *testing.T) {
	overlays, area := knownSite(t)
	p, err := From(overlays, area, Options{EachSide: 0.6}).Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, says string }{
		{`"id":"g/1"`, `"id":"s/1"`, "twice"},
		{`"severity":"note"`, `"severity":"grave"`, "grave"},
		{`"path":[[`, `"path":[[999,1],[`, "no place"},
		{`"entries":[{"line":"w/1"`, `"entries":[{"line":"x"`, "enters"},
		{`"lines":["w/1","g/1"]`, `"lines":["w/1","x"]`, "cross"},
		{`"zones":[{"line":"w/1"`, `"zones":[{"line":"x"`, "zone"},
	} {
		text := strings.Replace(string(p.Facts), c.from, c.to, 1)
		if text == string(p.Facts) {
			t.Errorf("%s is not there", c.from)
		}
		if _, err := Decode(Encoded{[]byte(text), p.Features}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.to, err)
		}
	}
	if _, err := Decode(Encoded{p.Facts, []byte(`[]`)}); err == nil {
		t.Error("features that are none were read")
	}
}

func FuzzReadKnown(f *testing.F) {
	overlays, area := knownSite(f)
	p, err := From(overlays, area, Options{EachSide: 0.6, Uncertainty: true}).Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(p.Facts, p.Features)
	f.Add([]byte(`{"lines":null}`), []byte(`{"features":[{"properties":{"part":"zone","line":"a"}}]}`))
	f.Fuzz(func(t *testing.T, known, features []byte) {
		k, err := Decode(Encoded{known, features})
		if err != nil {
			return
		}
		for _, l := range k.Lines {
			l.depthAt(1, 15)
			l.At(1)
		}
		if _, err := json.Marshal(k); err != nil {
			t.Fatal(err)
		}
	})
}

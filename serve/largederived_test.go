package serve

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/sqlite"
)

// manyLines are so many invented lines with bends that their zones are large,
// one line across all of them, and two beside one another.
func manyLines(t *testing.T) derive.Result {
	t.Helper()
	all := []geojson.Feature{{Geometry: orb.LineString{{-105.01, 40.001}, {-104.9, 40.001}}, Properties: map[string]any{"size": "6 in"}}}
	for i := range 60 {
		var line orb.LineString
		for j := range 500 {
			line = append(line, orb.Point{-105 + float64(i)*1e-4 + float64(j%2)*2e-6, 40 + float64(j)*2e-5})
		}
		all = append(all, geojson.Feature{Geometry: line, Properties: map[string]any{"name": fmt.Sprintf("</script> %d", i)}})
	}
	for _, lat := range []float64{40.02, 40.02001} {
		all = append(all, geojson.Feature{Geometry: orb.LineString{{-105, lat}, {-104.999, lat}}, Properties: map[string]any{}})
	}
	o, err := record.New(all, record.Meta{File: "w.geojson", Utility: "water"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	return derive.From([]record.Overlay{o}, nil, derive.Options{EachSide: 0.6})
}

// TestLargeKnown: zones and crossings of very many lines come as tiles, what a
// place lies in as words without shapes, entries and lines beside one another whole.
func TestLargeKnown(t *testing.T) {
	known := manyLines(t)
	h := start(t, makePackOf(t, "A", &known))
	var about struct {
		Large *struct {
			Zones, Crossings struct{ TileJSON, Near string }
			Entries          string
		} `json:"known_large"`
	}
	getInto(t, h.URL+"/packs/a/about.json", &about)
	if about.Large == nil {
		t.Fatal("it is not large")
	}
	var tj struct {
		Tiles    []string
		Features int
	}
	getInto(t, h.URL+about.Large.Zones.TileJSON, &tj)
	if tj.Features != 63 {
		t.Errorf("%d zones", tj.Features)
	}
	id := tiles.At(-104.999, 40.001, 19)
	if r, body := get(t, strings.NewReplacer("{z}", "19", "{x}", fmt.Sprint(id.X), "{y}", fmt.Sprint(id.Y)).Replace(tj.Tiles[0])); r.StatusCode != http.StatusOK || !strings.Contains(string(body), "faces") {
		t.Errorf("a tile of zones: %s, %d bytes", r.Status, len(body))
	}
	getInto(t, h.URL+about.Large.Crossings.TileJSON, &tj)
	if tj.Features != len(known.Crossings) || tj.Features < 60 {
		t.Errorf("%d crossings of %d", tj.Features, len(known.Crossings))
	}
	ask := func(near, place string) []json.RawMessage {
		var all struct{ Features []json.RawMessage }
		getInto(t, h.URL+near+"&near="+place+"&within=2", &all)
		return all.Features
	}
	in, beside := ask(about.Large.Zones.Near, "-104.95,40.001002"), ask(about.Large.Zones.Near, "-104.95,40.001012")
	if len(in) != 1 || len(beside) != 0 || !strings.Contains(string(in[0]), `"geometry":null`) || !strings.Contains(string(in[0]), `"reach_m"`) {
		t.Errorf("in a zone: %s; beside it: %s", in, beside)
	}
	if c := ask(about.Large.Crossings.Near, fmt.Sprintf("%.8f,%.8f", known.Crossings[0].Place[0], known.Crossings[0].Place[1])); len(c) != 1 || !strings.Contains(string(c[0]), `"relation"`) {
		t.Errorf("at a crossing: %s", c)
	}
	var entries struct {
		Features []struct{ Properties struct{ Part string } }
	}
	getInto(t, h.URL+about.Large.Entries, &entries)
	parts := map[string]int{}
	for _, e := range entries.Features {
		parts[e.Properties.Part]++
	}
	if parts["entry"] != len(known.Entries) || parts["beside"] != 1 || len(parts) > 2 {
		t.Errorf("%v among the entries", parts)
	}
}

// TestLargeKnownBesideItsName: a record that calls itself as the zones do in
// addresses is never taken for them.
func TestLargeKnownBesideItsName(t *testing.T) {
	known := manyLines(t)
	path := makePackOf(t, "A", &known)
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`UPDATE groundsheet_overlay SET id='zones', summary=replace(summary,'"1-water"','"zones"')`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	h := start(t, path)
	var list struct {
		Overlays []struct{ ID, TileJSON string }
	}
	getInto(t, h.URL+"/packs/a/overlays.json", &list)
	if len(list.Overlays) != 1 || list.Overlays[0].ID != "zones" || list.Overlays[0].TileJSON != "" {
		t.Errorf("%+v", list.Overlays)
	}
	if r, _ := get(t, h.URL+"/packs/a/overlays/zones/tilejson.json"); r.StatusCode != http.StatusNotFound {
		t.Errorf("zones in the place of a record: %s", r.Status)
	}
}

package serve

import (
	"encoding/json"
	"net/http"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geojson"
)

// TestKnown: what was worked out of the records is served beside them, and the
// looks of their lines with the list.
func TestKnown(t *testing.T) {
	o, err := record.New([]geojson.Feature{{Geometry: orb.LineString{{-105.001, 40.0005}, {-105, 40.0005}}, Properties: map[string]any{"size": "6 in"}}},
		record.Meta{File: "w.geojson", Utility: "water"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	known := derive.From([]record.Overlay{o}, nil, derive.Options{EachSide: 0.6})
	for name, c := range map[string]struct {
		known    *derive.Result
		path     string
		features int
	}{"told": {&known, "/packs/a/known.geojson", 1}, "not told": {nil, "", 0}} {
		t.Run(name, func(t *testing.T) {
			h := start(t, makePackOf(t, "A", c.known))
			var about struct{ Known string }
			_, body := get(t, h.URL+"/packs/a/about.json")
			if err := json.Unmarshal(body, &about); err != nil || about.Known != c.path {
				t.Errorf("%v: known is at %q", err, about.Known)
			}
			r, body := get(t, h.URL+"/packs/a/known.geojson")
			var all struct {
				Features []struct{ Properties struct{ Part string } }
			}
			if err := json.Unmarshal(body, &all); err != nil || r.StatusCode != http.StatusOK || len(all.Features) != c.features || r.Header.Get("Content-Type") != "application/geo+json" {
				t.Errorf("%v %d %s", err, r.StatusCode, body)
			}
			var list struct {
				Styles map[string]map[string]record.Symbology
			}
			_, body = get(t, h.URL+"/packs/a/overlays.json")
			if err := json.Unmarshal(body, &list); err != nil || !reflect.DeepEqual(list.Styles["water"]["D"], record.SymbologyOf("water", "D")) || len(list.Styles["water"]) != 5 {
				t.Errorf("%v %s", err, body)
			}
		})
	}
}

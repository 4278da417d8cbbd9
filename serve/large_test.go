package serve

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"iter"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/serve/document"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// makeLargePack writes a pack with one tile, a small overlay and one of n
// invented readings a meter apart in a square.
func makeLargePack(t testing.TB, n int) string {
	t.Helper()
	data := quarters(t)
	records := func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
		return func(yield func(store.Held, error) bool) {
			for id := range c.All() {
				yield(store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: "png"}, nil)
			}
		}
	}
	var all []geojson.Feature
	for i := range n {
		p := orb.Point{-105.0005 + float64(i%40)*1e-5, 40.0005 + float64(i/40)*1e-5}
		all = append(all, geojson.Feature{Geometry: p, Properties: map[string]any{"depth": "3ft 5in", "label": fmt.Sprintf("</script> %d", i)}})
	}
	small, err := record.New(all[:1], record.Meta{File: "w.geojson", Utility: "water"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	big, err := record.New(all, record.Meta{File: "g.geojson", Utility: "gas"}, "2-gas")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "p.mbtiles")
	_, err = pack.Write(t.Context(), path, pack.Content{
		About: pack.About{Name: "A", Units: "us", TileSize: 256, Source: pack.AboutSource{CopiesOnPhones: source.CopiesAllowed}}, Bounds: deepest17.Bounds(),
		Covers:   []tiles.Cover{tiles.NewCover(17, []tiles.Span{{Row: deepest17.Y, First: deepest17.X, Last: deepest17.X}})},
		Overlays: packed(t, deepest17.Bounds(), small, big), Area: []byte(`{"type":"FeatureCollection","features":[]}`), Tiles: store.CoverFunc(records),
	}, pack.WriteOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func getInto(t *testing.T, url string, into any) {
	t.Helper()
	r, body := get(t, url)
	if err := json.Unmarshal(body, into); err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %v %.200s", url, r.Status, err, body)
	}
}

// TestLarge: a large overlay comes as tiles, its records by place and by the
// id that tiles carry; a small one comes whole, as before.
func TestLarge(t *testing.T) {
	h := start(t, makeLargePack(t, 1500))
	var list struct {
		Overlays []struct{ ID, URL, TileJSON, Near string }
	}
	getInto(t, h.URL+"/packs/a/overlays.json", &list)
	if o := list.Overlays[0]; o.TileJSON != "" || o.Near != "" || o.URL == "" {
		t.Errorf("the small one: %+v", o)
	}
	o := list.Overlays[1]
	if o.TileJSON == "" || !strings.Contains(o.Near, "features?v=") || o.URL == "" {
		t.Fatalf("the large one: %+v", o)
	}
	var tj struct {
		TileJSON string
		Tiles    []string
		MaxZoom  int
		Features int
		Points   bool
		Levels   []string
		Bounds   []float64
	}
	getInto(t, h.URL+o.TileJSON, &tj)
	if tj.TileJSON != "3.0.0" || tj.MaxZoom != vectortile.DeepestZoom || tj.Features != 1500 || !tj.Points || len(tj.Levels) != 1 || len(tj.Bounds) != 4 {
		t.Fatalf("%+v", tj)
	}
	id := tiles.At(-105.0003, 40.00055, 17)
	url := strings.NewReplacer("{z}", "17", "{x}", fmt.Sprint(id.X), "{y}", fmt.Sprint(id.Y)).Replace(tj.Tiles[0])
	r, body := get(t, url)
	if r.StatusCode != 200 || len(body) == 0 || r.Header.Get("Content-Type") != vectortile.MediaType || r.Header.Get("Cache-Control") != "private, max-age=86400" || r.Header.Get("ETag") == "" {
		t.Errorf("%s %d bytes %v", r.Status, len(body), r.Header)
	}
	if r, small := get(t, url, "Accept-Encoding", "gzip"); r.Header.Get("Content-Encoding") != "gzip" || len(small) >= len(body) {
		t.Errorf("compressed: %v, %d bytes", r.Header, len(small))
	}
	if again, _ := get(t, url, "If-None-Match", r.Header.Get("ETag")); again.StatusCode != http.StatusNotModified {
		t.Errorf("asked again: %s", again.Status)
	}
	if r, body := get(t, strings.Split(url, "/17/")[0]+"/17/0/0.mvt"); r.StatusCode != http.StatusNoContent || len(body) > 0 {
		t.Errorf("an empty place: %s", r.Status)
	}
	if r, _ := get(t, strings.Split(url, "?")[0]); r.Header.Get("Cache-Control") != "no-cache" {
		t.Errorf("an address without a version may be kept: %v", r.Header)
	}
}

// TestLargeRecords: what is told at a tap is the record to the byte.
func TestLargeRecords(t *testing.T) {
	h := start(t, makeLargePack(t, 1500))
	var whole struct{ Features []json.RawMessage }
	getInto(t, h.URL+"/packs/a/overlays/2-gas.geojson", &whole)
	var near struct {
		NumberMatched, NumberReturned int
		Features                      []json.RawMessage
	}
	getInto(t, h.URL+"/packs/a/overlays/2-gas/features?near=-105.0005,40.0005&within=0.5", &near)
	if near.NumberMatched != 1 || near.NumberReturned != 1 || len(near.Features) != 1 || string(near.Features[0]) != string(whole.Features[0]) {
		t.Errorf("%+v", near)
	}
	getInto(t, h.URL+"/packs/a/overlays/2-gas/features?near=-105.0003,40.00055&within=50", &near)
	if near.NumberMatched < 400 || near.NumberReturned != 20 || len(near.Features) != 20 {
		t.Errorf("%d of %d", len(near.Features), near.NumberMatched)
	}
	if r, body := get(t, h.URL+"/packs/a/overlays/2-gas/features/777"); string(body) != string(whole.Features[777]) || r.Header.Get("Content-Type") != document.GeoJSON {
		t.Errorf("%s %s", r.Status, body)
	}
}

// TestLargeFind: the words of a large overlay are searched where it is held.
func TestLargeFind(t *testing.T) {
	h := start(t, makeLargePack(t, 1500))
	var found struct {
		NumberMatched, NumberSearched, NumberReturned int
		Next                                          *int
		Features                                      []struct{ Properties struct{ Label string } }
	}
	const of = "/packs/a/overlays/2-gas/features?"
	getInto(t, h.URL+of+"find=SCRIPT+1499", &found)
	if found.NumberMatched != 1 || found.NumberSearched != 1500 || found.Next != nil || found.Features[0].Properties.Label != "</script> 1499" {
		t.Errorf("%+v", found)
	}
	getInto(t, h.URL+of+"find=gas&from=1490", &found) // the name of its utility
	if found.NumberMatched != 10 || len(found.Features) != 10 {
		t.Errorf("%+v", found)
	}
	getInto(t, h.URL+of+"find=", &found)
	if found.NumberMatched != 1500 || found.NumberReturned != 25 || found.Next == nil || *found.Next != 25 {
		t.Errorf("%+v", found)
	}
}

// TestLargeRefuses: wrong asks are told what to ask, and cost nothing.
func TestLargeRefuses(t *testing.T) {
	h := start(t, makeLargePack(t, 1500))
	const of = "/packs/a/overlays/2-gas/"
	for path, want := range map[string]int{
		"/packs/a/overlays/1-water/tilejson.json":        404,
		"/packs/a/overlays/3-none/features/0":            404,
		"/packs/b/overlays/2-gas/tilejson.json":          404,
		of + "tiles/25/0/0.mvt":                          404,
		of + "tiles/3/8/0.mvt":                           404,
		of + "tiles/-1/0/0.mvt":                          404,
		of + "tiles/99999999999999999999/0/0.mvt":        404,
		of + "features/1500":                             404,
		of + "features/-1":                               404,
		of + "features/1e3":                              404,
		of + "features":                                  400,
		of + "features?find=a&from=-1":                   400,
		of + "features?find=a&from=1e3":                  400,
		of + "features?find=a&from=99999999999":          400,
		"/packs/a/overlays/1-water/features?find=a":      404,
		of + "features?near=NaN,40&within=5":             400,
		of + "features?near=-105,40&within=NaN":          400,
		of + "features?near=-105,40&within=Inf":          400,
		of + "features?near=-105,40&within=-1":           400,
		of + "features?near=-105&within=5":               400,
		of + "features?near=-105,40,1&within=5":          400,
		of + "features?near=40,-105&within=5":            400,
		of + "features?near=-105,40&within=1000000":      400,
		of + "features?near=-105,40&within=5%0d%0aX:%20": 400,
	} {
		if r, body := get(t, h.URL+path); r.StatusCode != want {
			t.Errorf("%s: %s %s, want %d", path, r.Status, body, want)
		}
	}
}

// TestPreload: the page names what it asks for first, so that it is under way
// before the script is. Of several packs it does not know which.
func TestPreload(t *testing.T) {
	one, two := makePack(t, "A"), makePack(t, "B")
	for n, paths := range map[int][]string{5: {one}, 1: {one, two}} {
		h := start(t, paths...)
		r, _ := get(t, h.URL+"/")
		links := strings.Split(r.Header.Get("Link"), ", ")
		if len(links) != n {
			t.Errorf("%d packs: %q", len(paths), links)
		}
		for _, l := range links {
			path, _, _ := strings.Cut(strings.TrimPrefix(l, "<"), ">")
			if r, body := get(t, h.URL+path); r.StatusCode != http.StatusOK || len(body) == 0 {
				t.Errorf("%q: %s", l, r.Status)
			}
		}
		if r, _ := get(t, h.URL+"/app.js"); r.Header.Get("Link") != "" {
			t.Error("the script names things too")
		}
	}
}

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles/sqlite"
)

// TestDrawnToPack goes from files of streets and numbers to a fit pack that says what
// its map is drawn from, on paper too.
func TestDrawnToPack(t *testing.T) {
	o := newWorker(t)
	o.write("roads.geojson", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"NAME":"Mill Road"},"geometry":{"type":"LineString","coordinates":[[-101.8310,35.2100],[-101.8290,35.2101]]}}]}`)
	o.write("points.csv", "lat,lon,HOUSE\n35.2102,-101.8300,12\n35.2102,-101.8297,14\n")
	out := o.must(0, "source", "add", o.path("roads.geojson"), "address="+o.path("points.csv"), "--name", "county")
	for _, want := range []string{"kind drawn, zooms 8 to 21", "roads.geojson: 1 shape drawn as street (by the name of the file); names from its field NAME", "points.csv: 2 shapes drawn as address (as stated); names from its field HOUSE", "never as wide as it is", "of when the files are"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in:\n%s", want, out)
		}
	}
	if code, _, wrong := o.do("source", "add", "street="+o.path("roads.geojson"), o.path("sources.toml")); code != 2 || !strings.Contains(wrong, "not a file that can be drawn") {
		t.Errorf("%d %s", code, wrong)
	}
	text, err := os.ReadFile(o.path("sources.toml"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "bounds = ") { // wider than the files: empty paper, no holes
			lines[i] = "bounds = [-101.84, 35.20, -101.82, 35.22]"
		}
	}
	o.write("sources.toml", strings.Join(lines, "\n"))
	o.allow()
	if out := o.must(0, "source", "try", "county", "--at", "35.21005,-101.83"); !strings.Contains(out, "from: "+o.path("roads.geojson")+", "+o.path("points.csv")) {
		t.Errorf("%s", out)
	}
	o.must(0, "new", o.path("site"), "--name", "site", "--around", "35.2100,-101.8300", "--radius", "100ft", "--margin", "20ft", "--zooms", "17,20", "--source", "county")
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Verdict != check.Fit || p.Tiles+p.Absent != p.Wanted {
		t.Fatalf("%+v", p)
	}
	one, err := pack.Open(t.Context(), o.path("site", "out", "site.mbtiles"))
	if err != nil {
		t.Fatal(err)
	}
	defer one.Close()
	a := one.Info.About
	if len(a.Source.Drawn) != 2 || a.Source.Drawn[0].Words() == "" || !strings.Contains(strings.Join(pack.Cautions(a), "\n"), "streets are lines, never as wide as they are") {
		t.Errorf("%+v\n%q", a.Source, pack.Cautions(a))
	}
	o.must(0, "brief", o.path("site"))
	html, err := os.ReadFile(o.path("site", "out", "site.html"))
	if err != nil || !strings.Contains(string(html), "What the map is drawn from") {
		t.Errorf("%v: the brief does not say that its map is drawn", err)
	}
}

// TestVectorTilesToPack goes from an MBTiles file of vector tiles to a fit pack of
// format pbf, which is drawn on paper; a damaged tile is found.
func TestVectorTilesToPack(t *testing.T) {
	o := newWorker(t)
	out := o.must(0, "source", "add", filepath.Join("..", "..", "tiles", "mvt", "testdata", "town.mbtiles"), "--name", "town")
	if !strings.Contains(out, "kind mbtiles, zooms 12 to 14, 512-pixel tiles") || !strings.Contains(out, "4 of its 4 layers are drawn") {
		t.Errorf("%s", out)
	}
	o.allow()
	if out := o.must(0, "source", "try", "town", "--at", "35.2125,-101.828", "--zoom", "14"); !strings.Contains(out, "layer: roads, with CLASS, FULLNAME") || strings.Contains(out, "odd:") {
		t.Errorf("%s", out)
	}
	o.must(0, "new", o.path("site"), "--name", "site", "--around", "35.2125,-101.8280", "--radius", "100ft", "--margin", "20ft", "--source", "town")
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Verdict != check.Fit || p.Tiles != p.Wanted || p.Tiles == 0 {
		t.Fatalf("%+v", p)
	}
	path := o.path("site", "out", "site.mbtiles")
	one, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if !one.Vector() || len(one.Info.About.Source.Drawn) != 4 {
		t.Errorf("%+v", one.Info)
	}
	if err := one.Close(); err != nil {
		t.Fatal(err)
	}
	o.must(0, "brief", o.path("site"))
	o.must(0, "store", "verify")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`UPDATE tiles SET tile_data = substr(tile_data, 1, 300)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if out := o.must(1, "check", path); !strings.Contains(out, "no whole vector tile") {
		t.Errorf("%s", out)
	}
}

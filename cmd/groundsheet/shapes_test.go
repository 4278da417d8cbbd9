package main

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/plan"
	"groundsheet/tiles/practice"
)

// corners of one small square, as every kind of file writes it.
const (
	squareKML = `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>
	<Placemark><name>Gate</name><Point><coordinates>-140.4998,40.5001</coordinates></Point></Placemark>
	<Placemark><name>Dig</name><Polygon><outerBoundaryIs><LinearRing><coordinates>-140.5,40.5 -140.4995,40.5 -140.4995,40.5004 -140.5,40.5004 -140.5,40.5</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>`
	squareWKT = `POLYGON ((-140.5 40.5, -140.4995 40.5, -140.4995 40.5004, -140.5 40.5004, -140.5 40.5))`
	squareCSV = "latitude,longitude\n40.5,-140.5\n40.5,-140.4995\n40°30'1.44\"N,140°29'58.2\"W\n40.5004,-140.5\n"
	squareGPX = `<?xml version="1.0"?><gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>walked</name><trkseg>
	<trkpt lat="40.5" lon="-140.5"/><trkpt lat="40.5" lon="-140.4995"/><trkpt lat="40.5004" lon="-140.4995"/><trkpt lat="40.5004" lon="-140.5"/><trkpt lat="40.5" lon="-140.5"/></trkseg></trk></gpx>`
	squareJSON = `{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.4995,40.5],[-140.4995,40.5004],[-140.5,40.5004],[-140.5,40.5]]]}`
)

// TestEveryKindOfBoundary: the same square in every kind of file, and typed,
// wants the same tiles.
func TestEveryKindOfBoundary(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	var kmz bytes.Buffer
	z := zip.NewWriter(&kmz)
	w, err := z.Create("doc.kml")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write([]byte(squareKML)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	files := map[string]string{"a.geojson": squareJSON, "a.kml": squareKML, "a.kmz": kmz.String(), "a.gpx": squareGPX, "a.wkt": squareWKT, "a.csv": squareCSV}
	ask := map[string][]string{"box": {"--box", "40.5,-140.5,40.5004,-140.4995"}}
	for name, text := range files {
		ask[name] = []string{"--area", o.write("in/"+name, text)}
	}
	tiles := map[string]int64{}
	for name, args := range ask {
		site := o.path("site-" + name)
		o.must(0, append([]string{"new", site, "--name", "Square", "--zooms", "16,21", "--margin", "20ft"}, args...)...)
		if strings.HasPrefix(name, "a.") { // the outline is kept as it was handed over
			kept, err := os.ReadFile(filepath.Join(site, "dig-area"+filepath.Ext(name)))
			if err != nil || string(kept) != files[name] {
				t.Errorf("%s: the outline was changed: %v", name, err)
			}
		}
		var p plan.Document
		decode(t, o.must(0, "plan", site, "--json"), &p)
		tiles[name] = p.Tiles
		if name == "a.kml" && len(p.Notes) == 0 {
			t.Error("a pin was left out without a word")
		}
	}
	for name, n := range tiles {
		if n != tiles["a.geojson"] || n < 20 {
			t.Errorf("%s wants %d tiles, GeoJSON %d", name, n, tiles["a.geojson"])
		}
	}
}

// TestSeveralFilesMakeOneArea.
func TestSeveralFilesMakeOneArea(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	first := o.write("in/a.wkt", squareWKT)
	second := o.write("in/b.wkt", strings.NewReplacer("-140.5 ", "-140.499 ", "-140.4995", "-140.4985").Replace(squareWKT))
	count := func(args ...string) int64 {
		site := o.path("site", strings.Join(args, "")[len(o.dir):])
		o.must(0, append([]string{"new", site, "--name", "Two", "--zooms", "20,20", "--margin", "0ft"}, args...)...)
		var p plan.Document
		decode(t, o.must(0, "plan", site, "--json"), &p)
		return p.Tiles
	}
	a, b, both := count("--area", first), count("--area", second), count("--area", first, "--area", second)
	if both != a+b {
		t.Errorf("%d and %d tiles apart, %d together", a, b, both)
	}
}

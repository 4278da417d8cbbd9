//go:build outside

package vectortile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// outsideOverlay holds points, a line and an outline (invented).
func outsideOverlay(place orb.Point) []geojson.Feature {
	all := readings(120, place, 0.0004, 21)
	at := func(east, north float64) orb.Point { return orb.Point{place[0] + east*1e-5, place[1] + north*1e-5} }
	line := walk(40, at(-9, 3), 0.00001, 23)
	ring := orb.Ring{at(-8, -8), at(8, -8), at(8, 8), at(-8, 8), at(-8, -8)}
	hole := orb.Ring{at(-2, -2), at(-2, 2), at(2, 2), at(2, -2), at(-2, -2)}
	return append(all, feature(line, map[string]any{"quality_level": "C", "note": "</script>"}), feature(orb.Polygon{ring, hole}, map[string]any{"quality_level": "ünder"}))
}

// outsideFeature is a feature as an outside program read it.
type outsideFeature struct {
	Layer      string
	Version    int
	ID         *int // of GDAL's output: in its properties
	Properties map[string]any
	Geometry   struct {
		Type        string
		Coordinates json.RawMessage
	}
}

// TestOutsideReferences: GDAL's MVT driver and npm @mapbox/vector-tile find
// every reading within 3 cm of its record, with its depth to the last digit,
// and lines and outlines where they belong.
func TestOutsideReferences(t *testing.T) {
	for _, place := range []orb.Point{{-140.50001, 0.00012}, {10.7501, 60.0001}} {
		all := outsideOverlay(place)
		x := index(t, all)
		for _, zoom := range []int{17, 18, 19, 21} {
			for name, read := range map[string]func(*testing.T, tiles.ID, []byte) []outsideFeature{"GDAL": byGDAL, "npm": byNode} {
				t.Run(fmt.Sprintf("%s at %v, zoom %d", name, place[1], zoom), func(t *testing.T) {
					found := map[int]bool{}
					kinds := map[string]bool{}
					for _, tile := range over(x.Content().Box, zoom) {
						b, err := x.Tile(tile)
						if err != nil || len(b) == 0 {
							continue
						}
						for _, f := range read(t, tile, b) {
							kinds[f.Layer+" "+f.Geometry.Type] = true
							found[*f.ID] = true
							comparePoint(t, f, all)
						}
					}
					if len(found) != len(all) || !kinds["records Point"] || !(kinds["faces Polygon"] || kinds["faces MultiPolygon"]) {
						t.Errorf("%d of %d features, as %v", len(found), len(all), kinds)
					}
				})
			}
		}
	}
}

func comparePoint(t *testing.T, f outsideFeature, all []geojson.Feature) {
	t.Helper()
	record := all[*f.ID]
	if want, ok := record.Geometry.(orb.Point); ok {
		var got orb.Point
		if err := json.Unmarshal(f.Geometry.Coordinates, &got); err != nil {
			t.Fatal(err)
		}
		if off := geodesic.Distance(got, want); off > 0.03 || f.Properties["depth_m"] != record.Properties["depth_m"] {
			t.Errorf("reading %d is %.4f m off, with %v", *f.ID, off, f.Properties)
		}
	} else if f.Properties["quality_level"] != record.Properties["quality_level"] || f.Properties["note"] != nil {
		t.Errorf("feature %d carries %v", *f.ID, f.Properties)
	}
}

func byNode(t *testing.T, tile tiles.ID, b []byte) (all []outsideFeature) {
	t.Helper()
	c := exec.Command("node", "vectortile.mjs", fmt.Sprint(tile.Z), fmt.Sprint(tile.X), fmt.Sprint(tile.Y))
	c.Dir, c.Stdin = filepath.Join("..", "..", "testdata", "reference"), bytes.NewReader(b)
	out, err := c.Output()
	if err != nil {
		t.Fatalf("node: %v; are the packages installed (npm ci in testdata/reference)?", err)
	}
	if err := json.Unmarshal(out, &all); err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		if f.Version != 2 {
			t.Errorf("version %d", f.Version)
		}
	}
	return all
}

// byGDAL asks for each layer by itself. GDAL cuts off what is beyond the tile
// and tells an id as the property mvt_id.
func byGDAL(t *testing.T, tile tiles.ID, b []byte) (all []outsideFeature) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "tile.mvt")
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	present := map[string]bool{}
	for _, d := range read(t, b) {
		present[d.layer] = true
	}
	for layer := range present {
		c := exec.Command("ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=11", "-t_srs", "EPSG:4326", "/vsistdout/", "MVT:"+path, layer,
			"-oo", fmt.Sprintf("Z=%d", tile.Z), "-oo", fmt.Sprintf("X=%d", tile.X), "-oo", fmt.Sprintf("Y=%d", tile.Y))
		var complaint bytes.Buffer
		c.Stderr = &complaint
		out, err := c.Output()
		if err != nil || complaint.Len() > 0 {
			t.Fatalf("ogr2ogr: %v %s", err, complaint.String())
		}
		var read struct{ Features []outsideFeature }
		if err := json.Unmarshal(out, &read); err != nil {
			t.Fatal(err)
		}
		for _, f := range read.Features {
			id, ok := f.Properties["mvt_id"].(float64)
			if !ok {
				t.Fatalf("no id in %v", f.Properties)
			}
			n := int(id)
			f.ID, f.Layer = &n, layer
			all = append(all, f)
		}
	}
	return all
}

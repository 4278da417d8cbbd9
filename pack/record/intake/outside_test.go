//go:build outside

package intake

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/vector"
)

// Against GDAL and PROJ as they are on this machine:
// go test -tags outside ./pack/record/intake

const invented = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"Name":"W-1","Material":"PVC","DEPTH_FT":3.5},"geometry":{"type":"LineString","coordinates":[[-105.04651,40.01201],[-105.04552,40.01212],[-105.04503,40.01233]]}},
{"type":"Feature","properties":{"Name":"W-2","Material":"DI","DEPTH_FT":4.25},"geometry":{"type":"LineString","coordinates":[[-105.04651,40.01251],[-105.04552,40.01262]]}}]}`

// millimeter is a millimeter on the ground in degrees.
const millimeter = 0.001 / 111_320.0

func TestFormsByGDAL(t *testing.T) {
	source := filepath.Join(t.TempDir(), "source.geojson")
	if err := os.WriteFile(source, []byte(invented), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, form := range []struct{ driver, name, srs, datum string }{
		{"ESRI Shapefile", "water.shp", "EPSG:4326", "WGS 84"},
		{"ESRI Shapefile", "water-nad83.shp", "EPSG:26913", "NAD83"},
		{"KML", "water.kml", "EPSG:4326", ""}, {"GeoJSON", "water.geojson", "EPSG:4326", ""},
	} {
		t.Run(form.name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), form.name)
			if text, err := exec.Command("ogr2ogr", "-f", form.driver, "-t_srs", form.srs, out, source).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			f, err := vector.Open(out)
			if err != nil {
				t.Fatal(err)
			}
			p := Propose(f, site(), Answers{"utility": "water"})
			if datum := p.item("datum"); datum.Value != form.datum || p.Problem != "" {
				t.Errorf("datum %+v, problem %q", datum, p.Problem)
			}
			for i, want := range linesOf(t, out) {
				got := p.Shapes[i].Geometry.(orb.LineString)
				for k := range want {
					if d := math.Hypot(got[k][0]-want[k][0], got[k][1]-want[k][1]); d > millimeter {
						t.Errorf("line %d, corner %d is %g degrees from what ogrinfo's library reads", i, k, d)
					}
				}
				if depth := p.Shapes[i].Properties["depth_m"]; depth != []float64{1.0668, 1.2954}[i] {
					t.Errorf("depth %v", depth)
				}
			}
		})
	}
}

// linesOf reads lines in degrees by GDAL.
func linesOf(t *testing.T, name string) (all []orb.LineString) {
	t.Helper()
	text, err := exec.Command("ogr2ogr", "-f", "GeoJSON", "-t_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=12", "/vsistdout/", name).Output()
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Features []struct {
			Geometry struct{ Coordinates [][]float64 }
		}
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	for _, f := range doc.Features {
		var line orb.LineString
		for _, c := range f.Geometry.Coordinates {
			line = append(line, orb.Point{c[0], c[1]})
		}
		all = append(all, line)
	}
	return all
}

// TestFeetByPROJ: places in either foot land where PROJ puts them, and the zone is
// found by where the job is.
func TestFeetByPROJ(t *testing.T) {
	places := []orb.Point{{-105.0456, 40.0123}, {-105.0450, 40.0119}, {-105.0466, 40.0131}}
	for _, foot := range []struct {
		answer string
		meters float64
	}{{"us survey ft", 1200.0 / 3937}, {"ft", 0.3048}} {
		var in, table strings.Builder
		for _, p := range places {
			fmt.Fprintf(&in, "%.9f %.9f\n", p[1], p[0])
		}
		c := exec.Command("cs2cs", "-f", "%.6f", "EPSG:4326", "EPSG:32613")
		c.Stdin = strings.NewReader(in.String())
		out, err := c.Output()
		if err != nil {
			t.Fatal(err)
		}
		table.WriteString("point,easting (ft),northing (ft)\n")
		for i, line := range strings.Split(strings.TrimSpace(string(bytes.TrimSpace(out))), "\n") {
			var e, n float64
			if _, err := fmt.Sscan(line, &e, &n); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&table, "%d,%.5f,%.5f\n", i+1, e/foot.meters, n/foot.meters)
		}
		p := propose(t, "x.csv", table.String(), "coordinates_in", foot.answer)
		wants(t, p, "utm_zone=13N (fits)")
		for i, want := range places {
			got := p.Shapes[i].Geometry.(orb.Point)
			if d := math.Hypot(got[0]-want[0], got[1]-want[1]); d > millimeter {
				t.Errorf("%s: place %d is %g degrees off", foot.answer, i+1, d)
			}
		}
	}
}

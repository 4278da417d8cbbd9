//go:build outside

package vector

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
)

// Against ogr2ogr and cs2cs as they are on this machine:
// go test -tags outside ./tiles/vector

func TestConversionsByGDAL(t *testing.T) {
	source, _ := readFile(t, "site.geojson", Areas)
	for _, code := range []string{"4326", "4269", "3857", "26912", "26913", "26914", "32613", "2231", "2232", "26953", "6428", "3078"} {
		t.Run(code, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out.shp")
			c := exec.Command("ogr2ogr", "-t_srs", "EPSG:"+code, out, filepath.Join("testdata", "site.geojson"))
			if text, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			f, err := Open(out)
			if err != nil {
				t.Fatal(err)
			}
			features, _, err := Read(f, Areas)
			if err != nil {
				t.Fatal(err)
			}
			for i := range source {
				if d := apart(features[i].Geometry, source[i].Geometry); !(d <= projected) {
					t.Errorf("feature %d is %g degrees off", i+1, d)
				}
			}
		})
	}
}

func TestTransverseByPROJ(t *testing.T) {
	var points []orb.Point
	var in strings.Builder
	for east := 160_000.0; east <= 840_000; east += 40_000 {
		for north := 1000.7; north < 9_300_000; north += 333_333.3 {
			points = append(points, orb.Point{east, north})
			fmt.Fprintf(&in, "%f %f\n", east, north)
		}
	}
	c := exec.Command("cs2cs", "-f", "%.12f", "EPSG:32613", "EPSG:4326")
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	worst, r := 0.0, bytes.NewReader(out)
	for _, p := range points {
		var lat, lon, height float64
		if _, err := fmt.Fscan(r, &lat, &lon, &height); err != nil {
			t.Fatal(err)
		}
		got, ok := geodesic.UTM(13, false).Inverse(p)
		if !ok {
			t.Fatalf("%v was refused", p)
		}
		worst = max(worst, math.Hypot((got[0]-lon)*111_320*math.Cos(lat*math.Pi/180), (got[1]-lat)*111_320))
	}
	t.Logf("%d positions, %.3g m at most", len(points), worst)
	if worst > 1e-6 {
		t.Errorf("%g m off", worst)
	}
}

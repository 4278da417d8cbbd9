//go:build outside

package dxf

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	orbjson "github.com/paulmach/orb/geojson"
)

// TestOutsideByGDAL has GDAL's ogr2ogr read drawings of arcs, bulges, ellipses, filled
// areas and blocks turned, scaled, mirrored and in one another: every box round a
// thing is the same within the tolerance of the curves.
func TestOutsideByGDAL(t *testing.T) {
	blocks := valve + "0 BLOCK 2 PAIR 10 1 20 2 0 INSERT 8 0 2 VALVE 10 5 20 0 41 2 42 3 50 30 0 INSERT 8 0 2 VALVE 10 9 20 1 41 -1 0 ENDBLK"
	for name, entities := range map[string]string{
		"line":       "0 LINE 8 GAS 10 1 20 2 30 5 11 3 21 4",
		"arc":        "0 ARC 8 GAS 10 3 20 4 40 2 50 200 51 20",
		"circle":     "0 CIRCLE 8 GAS 10 1 20 1 40 2",
		"below":      "0 CIRCLE 8 GAS 10 1 20 1 40 2 210 0 220 0 230 -1",
		"arc below":  "0 ARC 8 GAS 10 3 20 4 40 2 50 10 51 80 210 0 220 0 230 -1",
		"ellipse":    "0 ELLIPSE 8 GAS 10 1 20 2 11 4 21 3 40 0.5 41 0.3 42 4",
		"bulges":     "0 LWPOLYLINE 8 GAS 90 3 70 1 10 0 20 0 42 0.4 10 5 20 1 42 -0.7 10 3 20 6 42 2",
		"older":      "0 POLYLINE 8 GAS 66 1 70 0 0 VERTEX 8 GAS 10 0 20 0 42 -0.3 0 VERTEX 8 GAS 10 4 20 0 0 VERTEX 8 GAS 10 4 20 3 0 SEQEND 8 GAS",
		"hatch":      "0 HATCH 8 GAS 10 0 20 0 30 0 70 1 71 0 91 1 92 3 72 1 73 1 93 3 10 0 20 0 42 0.5 10 9 20 0 42 0 10 9 20 9 42 0 97 0 75 0 76 1 98 0",
		"block":      "0 INSERT 8 GAS 2 VALVE 10 10 20 20 41 2 42 2 50 33",
		"mirrored":   "0 INSERT 8 GAS 2 VALVE 10 10 20 20 41 -1 42 3 50 120",
		"nested":     "0 INSERT 8 GAS 2 PAIR 10 100 20 50 41 0.5 42 0.5 50 -70",
		"in rows":    "0 INSERT 8 GAS 2 VALVE 10 10 20 20 70 3 71 2 44 5 45 7",
		"from below": "0 INSERT 8 GAS 2 VALVE 10 10 20 20 50 30 210 0 220 0 230 -1",
	} {
		t.Run(name, func(t *testing.T) {
			data := drawing(blocks, entities)
			dir := t.TempDir()
			in, out := filepath.Join(dir, "a.dxf"), filepath.Join(dir, "a.geojson")
			if err := os.WriteFile(in, data, 0o600); err != nil {
				t.Fatal(err)
			}
			c := exec.Command("ogr2ogr", "-f", "GeoJSON", "-lco", "RFC7946=NO", "--config", "OGR_ARC_STEPSIZE", "0.5", "--config", "DXF_MERGE_BLOCK_GEOMETRIES", "FALSE", "-explodecollections", out, in)
			if text, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			text, err := os.ReadFile(out)
			if err != nil {
				t.Fatal(err)
			}
			all := orbjson.NewFeatureCollection()
			if err := json.Unmarshal(text, all); err != nil {
				t.Fatal(err)
			}
			var want, got []orb.Bound
			for _, f := range all.Features {
				want = append(want, f.Geometry.Bound())
			}
			d, err := Read(data, Options{Tolerance: 0.0005})
			if err != nil || len(d.LeftOut) > 0 {
				t.Fatal(err, d.LeftOut)
			}
			for _, e := range d.Entities {
				got = append(got, e.Geometry.Bound())
			}
			order := func(a, b orb.Bound) int { return slices.Compare(rounded(a), rounded(b)) }
			slices.SortFunc(want, order)
			slices.SortFunc(got, order)
			if len(got) != len(want) {
				t.Fatalf("%d things, GDAL has %d: %v %v", len(got), len(want), got, want)
			}
			for i := range want {
				for k, v := range []float64{got[i].Min[0] - want[i].Min[0], got[i].Min[1] - want[i].Min[1], got[i].Max[0] - want[i].Max[0], got[i].Max[1] - want[i].Max[1]} {
					if math.Abs(v) > 0.002 {
						t.Errorf("side %d of %d: %v, GDAL has %v", k, i, got[i], want[i])
					}
				}
			}
		})
	}
}

func rounded(b orb.Bound) []int {
	var all []int
	for _, v := range []float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]} {
		all = append(all, int(math.Round(v*20)))
	}
	return all
}

//go:build outside

package derive

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// sqlite asks GDAL's SQLite dialect (SpatiaLite, GEOS) one number about a layer.
func sqlite(t *testing.T, features []geojson.Feature, sql string) float64 {
	t.Helper()
	name := filepath.Join(t.TempDir(), "layer.geojson")
	var text strings.Builder
	if err := geojson.Write(&text, features); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("ogrinfo", "-q", "-dialect", "SQLite", "-sql", sql, name).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	m := regexp.MustCompile(`answer \(\w+\) = (\S+)`).FindSubmatch(out)
	if m == nil {
		t.Fatalf("no answer in %s", out)
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestOutsideCrossings counts the pairs of lines that meet.
func TestOutsideCrossings(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2026))
	var features []geojson.Feature
	var lines []Line
	for i := range 60 {
		f := lineOf(map[string]any{"n": float64(i)}, at(r.Float64()*100, r.Float64()*100), at(r.Float64()*100, r.Float64()*100))
		features = append(features, f)
		lines = append(lines, linesOf(recordOf(t, fmt.Sprint(i), "gas", f))...)
	}
	want := sqlite(t, features, "SELECT COUNT(*) AS answer FROM layer a, layer b WHERE a.n < b.n AND ST_Intersects(a.geometry, b.geometry)")
	if got := len(newCrossings(lines, 15)); float64(got) != want || want == 0 {
		t.Errorf("%d crossings, GDAL finds %v", got, want)
	}
}

// TestOutsideInside measures the length of a line within an area in UTM, near
// the central meridian, where the scale is 0.9996.
func TestOutsideInside(t *testing.T) {
	area := orb.MultiPolygon{{{at(0, 0), at(80, 10), at(60, 70), at(30, 30), at(-10, 60), at(0, 0)}, {at(20, 10), at(20, 20), at(40, 20), at(40, 10), at(20, 10)}}}
	line := lineOf(map[string]any{"n": 1.0}, at(-20, 15), at(90, 15), at(50, 60), at(-30, 50))
	want := sqlite(t, []geojson.Feature{line, {Geometry: area, Properties: map[string]any{"n": 2.0}}},
		"SELECT ST_Length(ST_Transform(ST_Intersection(a.geometry, b.geometry), 32613)) / 0.9996 AS answer FROM layer a, layer b WHERE a.n = 1 AND b.n = 2")
	k := From([]record.Overlay{recordOf(t, "w", "water", line)}, area, Options{})
	if len(k.Entries) != 1 || math.Abs(k.Entries[0].LengthM-want) > 1e-3 {
		t.Errorf("%+v, GDAL finds %v m", k.Entries, want)
	}
}

// TestOutsideZone compares zones with GEOS's buffer in UTM, true to scale.
func TestOutsideZone(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 2026))
	for range 5 {
		var path orb.LineString
		x, y, turn := 0.0, 0.0, r.Float64()*6
		for range 25 {
			path = append(path, at(x, y))
			turn += r.Float64() - 0.5
			x, y = x+6*math.Cos(turn), y+6*math.Sin(turn)
		}
		features := []geojson.Feature{lineOf(map[string]any{"n": 1.0}, path...), {Geometry: around(path, 0.9), Properties: map[string]any{"n": 2.0}}}
		buffer := sqlite(t, features, "SELECT ST_Area(ST_Buffer(ST_Transform(geometry, 32613), 0.9 * 0.9996, 64)) AS answer FROM layer WHERE n = 1")
		zone := sqlite(t, features, "SELECT ST_Area(ST_Transform(geometry, 32613)) AS answer FROM layer WHERE n = 2")
		if zone < buffer*0.9999 || zone > buffer*1.01 {
			t.Errorf("the zone has %v m², the buffer %v m²", zone, buffer)
		}
	}
}

// TestOutsideLengths asks the npm package geographiclib-geodesic.
func TestOutsideLengths(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 2026))
	var question struct {
		Inverse [][4]float64 `json:"inverse"`
	}
	var path orb.LineString
	for i := range 200 {
		p := orb.Point{-105 + r.Float64()*0.01, 40 + r.Float64()*0.01}
		if path = append(path, p); i > 0 {
			question.Inverse = append(question.Inverse, [4]float64{path[i-1][1], path[i-1][0], p[1], p[0]})
		}
	}
	in, err := json.Marshal(question)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command("node", "geodesic.mjs")
	c.Dir, c.Stdin = filepath.Join("..", "..", "..", "testdata", "reference"), strings.NewReader(string(in))
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	var answer struct{ Inverse []float64 }
	if err := json.Unmarshal(out, &answer); err != nil {
		t.Fatal(err)
	}
	l, sum := linesOf(recordOf(t, "w", "water", lineOf(nil, path...)))[0], 0.0
	for i, meters := range answer.Inverse {
		sum += meters
		if got := geodesic.Distance(path[i], path[i+1]); math.Abs(got-meters) > 1e-6 {
			t.Errorf("edge %d: %v m, want %v", i, got, meters)
		}
	}
	if math.Abs(l.LengthM-sum) > 1e-4 {
		t.Errorf("length %v m, want %v", l.LengthM, sum)
	}
}

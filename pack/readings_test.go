package pack

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const readingsJob = `
name = "Cutbank lift station"
area = ["dig-area.geojson"]

[[base]]
source = "county-ortho"
zooms = [14, 21]

[[overlay]]
file = "readings.csv"
utility = "water"
datum = "NAD83"
columns = { depth = "D1", easting = "E", northing = "N" }
units = { depth = "ft-in" }
utm_zone = "13N"
coordinates_in = "us survey ft"
`

// A CSV of readings comes through the job file into an overlay, with what was
// taken for what, and the row that could not be read by its line.
func TestReadingsOfAJob(t *testing.T) {
	dir := t.TempDir()
	csv := "E,N,D1,Line\n1640416.6667,14526733.4754,3-5,W1\n1640416.6667,14526733.4754,deep,W1\n"
	if err := os.WriteFile(filepath.Join(dir, "readings.csv"), []byte(csv), 0o600); err != nil {
		t.Fatal(err)
	}
	j, err := ParseJob([]byte(readingsJob), dir)
	if err != nil {
		t.Fatal(err)
	}
	all, notes, err := j.ReadOverlays()
	if err != nil || len(all) != 1 || len(all[0].Features) != 1 {
		t.Fatalf("%v %+v", err, all)
	}
	f := all[0].Features[0]
	p := f.Geometry.Bound().Min
	if math.Abs(p[0]+105) > 1e-7 || math.Abs(p[1]-40) > 1e-7 || f.Properties["depth_m"] != 1.0414 || all[0].Datum != "NAD83" {
		t.Errorf("%v %+v", p, f.Properties)
	}
	told := strings.Join(notes, "\n")
	for _, says := range []string{`depth from "D1" in ft-in`, `readings.csv, line 3: depth: "deep"`, "0.3048006096 m"} {
		if !strings.Contains(told, says) {
			t.Errorf("%q is not told in:\n%s", says, told)
		}
	}
	for wrong, says := range map[string]string{`coordinates_in = "chain"`: "us survey ft", `coordinates_in = ""`: "1640417"} {
		j, err := ParseJob([]byte(strings.Replace(readingsJob, `coordinates_in = "us survey ft"`, wrong, 1)), dir)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := j.ReadOverlays(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", wrong, err)
		}
	}
}

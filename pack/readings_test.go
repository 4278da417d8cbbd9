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
	leave := strings.Replace(readingsJob, `utm_zone =`, "leave_out = [{ line = 3, why = \"read over a vault\" }]\nshift = \"NAD83(2011) to WGS 84 at 2026.0\"\nutm_zone =", 1)
	if j, err = ParseJob([]byte(leave), dir); err != nil {
		t.Fatal(err)
	}
	all, notes, err = j.ReadOverlays()
	if told = strings.Join(notes, "\n"); err != nil || strings.Contains(told, "deep") || !strings.Contains(told, "readings.csv, line 3: left out by the map manager, so on no map: read over a vault") {
		t.Errorf("%v %s", err, told)
	}
	s := summarize(all[0], all[0].Bounds())
	if p := all[0].Features[0].Geometry.Bound().Min; math.Abs(p[0]+105.0000156570) > 2e-9+1e-7 || len(s.LeftOut) != 1 || s.LeftOut[0].Line != 3 || !strings.HasPrefix(s.Datum, "WGS 84, shifted from NAD83(2011) at epoch 2026.0") {
		t.Errorf("%v %+v", p, s)
	}
	for wrong, says := range map[string]string{
		`leave_out = [{ line = 40, why = "x" }]`: "line 40 is no row", `leave_out = [{ line = 3, why = "" }]`: "line 3 has no reason", `leave_out = [{ line = 3 }]`: "no reason", `leave_out = [3]`: "line 15",
		`shift = "NAD83 to WGS 84 at 2026.0"`: "several realizations", `shift = "NAD83(2011) to WGS 84"`: "epoch is missing",
	} {
		j, err := ParseJob([]byte(strings.Replace(readingsJob, `utm_zone =`, wrong+"\nutm_zone =", 1)), dir)
		if err == nil {
			_, _, err = j.ReadOverlays()
		}
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", wrong, err)
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

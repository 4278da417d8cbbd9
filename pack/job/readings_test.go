package job

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A shapefile's .prj states its datum, with the realization; a shift that it
// contradicts is refused, also where the job states another.
func TestDatumOfAJob(t *testing.T) {
	read := func(prj, more string) (string, error) {
		t.Helper()
		dir := t.TempDir()
		for _, end := range []string{"shp", "dbf"} {
			data, err := os.ReadFile(filepath.Join("..", "..", "tiles", "vector", "testdata", "site-4269."+end))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "a."+end), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(filepath.Join(dir, "a.prj"), []byte(prj), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "a.geojson"), []byte(`{"type":"Point","coordinates":[-105,40]}`), 0o600); err != nil {
			t.Fatal(err)
		}
		job := strings.Replace(goodJob, "file = \"overlays/water-1998.geojson\"", more, 1)
		j, err := Parse([]byte(job), dir)
		if err != nil {
			t.Fatal(err)
		}
		all, _, err := j.readOverlays()
		if err != nil {
			return "", err
		}
		return all[0].Datum, nil
	}
	system := func(datum, spheroid string) string {
		return `GEOGCS["x",DATUM["` + datum + `",SPHEROID["x",6378137,` + spheroid + `]],PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925199433]]`
	}
	wgs, nad, plain := system("D_WGS_1984", "298.257223563"), system("D_NAD_1983_2011", "298.257222101"), system("D_North_American_1983", "298.257222101")
	const file, geo, shift = `file = "a.shp"`, `file = "a.geojson"`, "\nshift = \"NAD83(2011) to WGS 84 at 2026.0\""
	for name, c := range map[string]struct{ prj, more, begins, refused string }{
		"WGS 84": {wgs, file, "WGS 84", ""}, "the realization": {nad, file, "NAD83(2011)", ""}, "NAD83": {plain, file, "NAD83", ""}, "stated": {plain, file + "\ndatum = \"NAD83(2011)\"", "NAD83(2011)", ""},
		"shifted": {nad, file + shift, "WGS 84, shifted from NAD83(2011)", ""}, "NAD83, shifted": {plain, file + shift, "WGS 84, shifted from NAD83(2011)", ""},
		"contradicted": {wgs, file + shift, "", `stated to be on "WGS 84"`}, "by the file alone": {wgs, file + shift + "\ndatum = \"NAD83(2011)\"", "", `stated to be on "WGS 84"`},
		"by the job alone": {nad, file + shift + "\ndatum = \"NAD27\"", "", `stated to be on "NAD27"`},
		"by format":        {"", geo, "WGS 84 (by the file's format", ""}, "by format, shifted": {"", geo + shift, "WGS 84, shifted from NAD83(2011)", ""},
		"a format, contradicted": {"", geo + shift + "\ndatum = \"WGS 84\"", "", `stated to be on "WGS 84"`},
	} {
		datum, err := read(c.prj, c.more)
		if c.refused != "" && (err == nil || !strings.Contains(err.Error(), c.refused)) || c.refused == "" && (err != nil || !strings.HasPrefix(datum, c.begins)) {
			t.Errorf("%s: %q, %v", name, datum, err)
		}
	}
}

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
	j, err := Parse([]byte(readingsJob), dir)
	if err != nil {
		t.Fatal(err)
	}
	all, notes, err := j.readOverlays()
	if err != nil || len(all) != 1 || len(all[0].Features) != 1 {
		t.Fatalf("%v %+v", err, all)
	}
	f := all[0].Features[0]
	p := f.Geometry.Bound().Min
	if math.Abs(p[0]+105) > 1e-7 || math.Abs(p[1]-40) > 1e-7 || f.Properties["depth_m"] != 1.0414 || all[0].Datum != "NAD83" {
		t.Errorf("%v %+v", p, f.Properties)
	}
	told := strings.Join(notes, "\n")
	for _, says := range []string{`depth from "D1" in feet and inches`, `readings.csv, line 3: depth: "deep"`, "0.3048006096 m"} {
		if !strings.Contains(told, says) {
			t.Errorf("%q is not told in:\n%s", says, told)
		}
	}
	leave := strings.Replace(readingsJob, `utm_zone =`, "leave_out = [{ line = 3, why = \"read over a vault\" }]\nshift = \"NAD83(2011) to WGS 84 at 2026.0\"\nutm_zone =", 1)
	if j, err = Parse([]byte(leave), dir); err != nil {
		t.Fatal(err)
	}
	all, notes, err = j.readOverlays()
	if told = strings.Join(notes, "\n"); err != nil || strings.Contains(told, "deep") || !strings.Contains(told, "readings.csv, line 3: left out by the map manager, so on no map: read over a vault") {
		t.Errorf("%v %s", err, told)
	}
	o := all[0]
	if p := o.Features[0].Geometry.Bound().Min; math.Abs(p[0]+105.0000156570) > 2e-9+1e-7 || len(o.LeaveOut) != 1 || o.LeaveOut[0].Line != 3 || !strings.HasPrefix(o.Datum, "WGS 84, shifted from NAD83(2011) at epoch 2026.0") {
		t.Errorf("%v %+v", p, o.Meta)
	}
	for wrong, says := range map[string]string{
		`leave_out = [{ line = 40, why = "x" }]`: "line 40 is no row", `leave_out = [{ line = 3, why = "" }]`: "line 3 has no reason", `leave_out = [{ line = 3 }]`: "no reason", `leave_out = [3]`: "line 15",
		`shift = "NAD83 to WGS 84 at 2026.0"`: "several realizations", `shift = "NAD83(2011) to WGS 84"`: "epoch is missing",
	} {
		j, err := Parse([]byte(strings.Replace(readingsJob, `utm_zone =`, wrong+"\nutm_zone =", 1)), dir)
		if err == nil {
			_, _, err = j.readOverlays()
		}
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", wrong, err)
		}
	}
	for wrong, says := range map[string]string{`coordinates_in = "chain"`: "us survey ft", `coordinates_in = ""`: "1640417"} {
		j, err := Parse([]byte(strings.Replace(readingsJob, `coordinates_in = "us survey ft"`, wrong, 1)), dir)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := j.readOverlays(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", wrong, err)
		}
	}
}

package job

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/vector"
)

const corners2231 = "Point,Easting (US ft),Northing (US ft)\n1,3071000,1247500\n2,3071600,1247500\n3,3071600,1248000\n"

// A table of corners in State Plane, US survey feet, as dig area and as record.
func TestStatePlaneInAJob(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("dig.csv", strings.NewReplacer("Easting (US ft)", "E", "Northing (US ft)", "N").Replace(corners2231))
	write("water.csv", "E,N,Depth (ft)\n3071000,1247500,4\n3071600.00,1247500.00,4.5\n")
	const head = "name = \"a\"\n[[within]]\nfile = \"dig.csv\"\nepsg = 2231\n[[base]]\nsource = \"practice\"\n"
	j, err := Parse([]byte(head+"[[overlay]]\nfile = \"water.csv\"\nutility = \"water\"\nepsg = 2231\n"), dir)
	if err != nil {
		t.Fatal(err)
	}
	in, err := j.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	// PROJ 9.1.1: echo "3071000 1247500" | cs2cs -f %.9f EPSG:2231 EPSG:4269
	want := orb.Point{-105.2465208006, 40.0124952412}
	o := in.Overlays[0]
	if got := o.Features[0].Geometry.(orb.Point); math.Abs(got[0]-want[0]) > 2e-9 || math.Abs(got[1]-want[1]) > 2e-9 || o.Datum != "NAD83" {
		t.Errorf("%v on %q, want %v", got, o.Datum, want)
	}
	if b := in.Area.Bounds(); math.Abs(b.West-want[0]) > 1e-7 || math.Abs(b.South-want[1]) > 1e-5 {
		t.Errorf("area %+v", b)
	}
	if all := strings.Join(in.Notes, " "); !strings.Contains(all, "NAD83 / Colorado North (ftUS), EPSG:2231, in us survey ft") {
		t.Errorf("notes %s", all)
	}
	if _, notes, err := j.ReadArea(); err != nil || !slices.ContainsFunc(notes, func(n string) bool {
		return strings.Contains(n, "dig.csv: the numbers of this area are on NAD83") && strings.Contains(n, "no shift is made") && strings.Contains(n, "up to 3")
	}) {
		t.Errorf("%v: nothing tells that the area is on NAD83: %q", err, notes)
	}
	contradicted, err := Parse([]byte(head+"[[overlay]]\nfile = \"water.csv\"\nutility = \"water\"\nepsg = 2231\ndatum = \"WGS 84\"\n"), dir)
	if err != nil {
		t.Fatal(err)
	}
	if in, err = contradicted.ReadInputs(); err != nil || !strings.Contains(strings.Join(in.Notes, " "), "the job says that the coordinates are on WGS 84, and their coordinate system is on NAD83") {
		t.Errorf("%v %v", in.Notes, err)
	}
	for name, test := range map[string][2]string{
		"as a text":        {"epsg = \"EPSG:6430\"\nshift = \"NAD83(2011) to WGS 84 at 2026.0\"", ""},
		"meters stated":    {"epsg = 2231\ncoordinates_in = \"m\"", "epsg = 26953"},
		"a zone too":       {"epsg = 2231\nutm_zone = \"13N\"", "both epsg and a UTM zone"},
		"NAD27":            {"epsg = 32054", "NAD27"},
		"another zone":     {"epsg = 2225", "outside of the ground"},
		"a layer":          {"epsg = 2231\nlayer = \"x\"", "no layers"},
		"a foreign shift":  {"epsg = 6430\nshift = \"NAD83(2011) to WGS 84 at 2026.0\"", ""},
		"an unknown table": {"epsg = 2231\nencoding = \"klingon\"", "klingon"},
	} {
		j, err := Parse([]byte(head+"[[overlay]]\nfile = \"water.csv\"\nutility = \"water\"\n"+test[0]+"\n"), dir)
		if err != nil {
			t.Fatal(err)
		}
		in, err := j.ReadInputs()
		if test[1] == "" {
			if err != nil || !strings.Contains(in.Overlays[0].Datum, "shifted from NAD83(2011)") {
				t.Errorf("%s: %v %v", name, in.Overlays, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), test[1]) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A new job states how its copies are to be read.
func TestNewJobKeepsTheForm(t *testing.T) {
	from := t.TempDir()
	path := filepath.Join(from, "c.csv")
	if err := os.WriteFile(path, []byte("E,N\n3071000,1247500\n3071600,1247500\n3071600,1248000\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	draft, err := Parse([]byte("name = \"a\"\n[[within]]\nfile = \""+path+"\"\nepsg = 2231\n[[base]]\nsource = \"practice\"\n"), from)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "site")
	if _, err := New(dir, draft); err != nil {
		t.Fatal(err)
	}
	again, err := Read(dir)
	if err != nil || len(again.Within) != 1 || again.Within[0].EPSG != 2231 || again.Within[0].File != "outline.csv" {
		t.Fatalf("%+v %v", again.Within, err)
	}
	if _, err := again.ReadInputs(); err != nil {
		t.Error(err)
	}
}

// A file that is read as stated stays as it is while none of its shapes changes; else
// they are drawn anew, and its table goes.
func TestWithinIsDrawn(t *testing.T) {
	dir := t.TempDir()
	const head, table, tail = "name = \"a\"\n", "[[within]]\nfile = \"dig.csv\"\nepsg = 2231\n\n", "[[base]]\nsource = \"practice\"\n"
	for name, text := range map[string]string{FileName: head + table + tail, "dig.csv": "E,N\n3071000,1247500\n3071600,1247500\n3071600,1248000\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := drawing(t, dir, func(all []Shape) []Shape { return all }); err != nil {
		t.Fatal(err)
	}
	if got := textOf(t, dir, FileName); got != head+table+tail {
		t.Errorf("unchanged, job.toml is now:\n%s", got)
	}
	dropped := Dropped{File: vector.File{Name: "More.CSV", Data: []byte("E,N\n3071000,1257500\n3071600,1257500\n3071600,1258000\n"), How: vector.How{EPSG: 2231}}}
	more, _, err := ShapesIn(dropped)
	if err != nil {
		t.Fatal(err)
	}
	more[0].From = "drop[0]"
	if err := drawing(t, dir, func(all []Shape) []Shape { return append(all, more...) }, dropped); err != nil {
		t.Fatal(err)
	}
	if got := textOf(t, dir, FileName); strings.Count(got, "epsg = 2231") != 2 || !strings.Contains(got, `file = "outline.csv"`) {
		t.Errorf("with a dropped one, job.toml is now:\n%s", got)
	}
	if err := drawing(t, dir, func(all []Shape) []Shape { all[0].Rings[0][1][0] += 0.001; return all }); err != nil {
		t.Fatal(err)
	}
	got := textOf(t, dir, FileName)
	if j, err := Read(dir); err != nil || len(j.Within) != 1 || j.Within[0].File != "outline.csv" || len(j.Area) != 1 {
		t.Errorf("%v; one moved, job.toml is now:\n%s", err, got)
	}
}

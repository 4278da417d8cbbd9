package job

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/record"
	"groundsheet/pack/record/intake"
	"groundsheet/tiles/vector"
)

const handWritten = "# By hand, in my order.\nname = \"Valve 12\"\nunits = \"us\"   # ours\n\n[[around]]\ncenter = \"40.0123,-105.0456\"\nradius = \"200ft\"\n\n[[overlay]]\nfile = \"old.geojson\"\nutility = \"gas\"\n\n[[base]]\nsource = \"practice\"\n# the end\n"

func jobFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{FileName: handWritten, "old.geojson": `{"type":"FeatureCollection","features":[]}`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// filesIn are all files of a folder with what is in them.
func filesIn(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		all.WriteString(path + "\n" + string(text) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

const points = "lat,lon,D1,what\n40.0123,-105.0456,3.5,a\n40.0124,-105.0456,x,b\n"

// TestAddedRecordIsReadAsProposed: what the proposal showed is what the job reads.
func TestAddedRecordIsReadAsProposed(t *testing.T) {
	dir := jobFolder(t)
	j, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	site, err := j.Site(time.Now())
	if err != nil {
		t.Fatal(err)
	}
	f := vector.File{Name: "points (2).txt", Data: []byte(points)}
	p := intake.Propose(f, site, intake.Answers{"utility": "water", "datum": "NAD83(2011)", "column.depth": "D1", "units.depth": "ft", "unread": "leave out",
		"recorded": "1998-05-01", "accuracy": "± 2 ft", "owner": "the \"town\"", "quality_level": "C"})
	m, ok := p.Meta()
	if !ok {
		t.Fatalf("%+v %s", p.Open(), p.Problem)
	}
	name, err := AddOverlay(dir, "a test", f, m, p.Remarks())
	if err != nil || name != "overlays/points (2).csv" {
		t.Fatalf("%s %v", name, err)
	}
	text, _ := os.ReadFile(filepath.Join(dir, FileName))
	before, _, _ := strings.Cut(handWritten, "[[base]]")
	if !strings.HasPrefix(string(text), before) || !strings.Contains(string(text), "# the end\n") {
		t.Errorf("job.toml is\n%s", text)
	}
	j, err = Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	in, err := j.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	var got, want bytes.Buffer
	if err := errors.Join(in.Overlays[1].WriteGeoJSON(&got), p.Overlay().WriteGeoJSON(&want)); err != nil || got.String() != want.String() {
		t.Errorf("%v\n%s\nwant\n%s", err, &got, &want)
	}
	o := in.Overlays[1]
	if o.Datum != "NAD83(2011)" || o.Recorded != "1998-05-01" || o.Owner != `the "town"` || o.QualityLevel != "C" || o.Accuracy.Meters() != 0.6096 || len(o.LeaveOut) != 1 {
		t.Errorf("%+v", o.Meta)
	}
	if _, err := RemoveOverlay(dir, "a test", 2); err != nil {
		t.Fatal(err)
	}
	if text, _ := os.ReadFile(filepath.Join(dir, FileName)); strings.TrimSpace(string(text)) != strings.TrimSpace(handWritten) {
		t.Errorf("job.toml is\n%s", text)
	}
	if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
		t.Error("the file that was handed over is gone")
	}
}

func TestNothingIsAddedByHalves(t *testing.T) {
	dir := jobFolder(t)
	f := vector.File{Name: "p.csv", Data: []byte(points)}
	good := record.Meta{File: "overlays/p.csv", Utility: "water"}
	bad := good
	bad.TableFormat.Columns = map[string]string{"depth": "no such"}
	before := filesIn(t, dir)
	if _, err := AddOverlay(dir, "a test", f, bad, nil); err == nil || filesIn(t, dir) != before {
		t.Errorf("a record that cannot be read: %v", err)
	}
	unlock, err := Lock(dir, "another run")
	if err != nil {
		t.Fatal(err)
	}
	held := filesIn(t, dir)
	if _, err := AddOverlay(dir, "a test", f, good, nil); !errors.Is(err, Locked) || filesIn(t, dir) != held {
		t.Errorf("a locked job: %v", err)
	}
	if err := unlock(); err != nil {
		t.Fatal(err)
	}
	if _, err := RemoveOverlay(dir, "a test", 2); err == nil || filesIn(t, dir) != before {
		t.Errorf("an overlay that is not there: %v", err)
	}
	if _, err := AddOverlay(dir, "a test", f, good, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := AddOverlay(dir, "a test", f, good, nil); err == nil || !strings.Contains(err.Error(), "the same file") {
		t.Errorf("the same file twice: %v", err)
	}
	f.Data = append(f.Data, "40.0125,-105.0456,4 ft,c\n"...)
	if name, err := AddOverlay(dir, "a test", f, good, nil); err != nil || name != "overlays/p-2.csv" {
		t.Errorf("another file of the same name: %s %v", name, err)
	}
	if copied, _ := os.ReadFile(filepath.Join(dir, "overlays", "p.csv")); string(copied) != points {
		t.Error("the first copy was changed")
	}
}

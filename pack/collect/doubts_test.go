package collect_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/collect"
	"groundsheet/pack/job"
	"groundsheet/tiles/words/golden"
)

// TestMain has the times of day in the golden words in UTC.
func TestMain(m *testing.M) {
	time.Local = time.UTC
	os.Exit(m.Run())
}

// The told text of each doubt, to be read as a stranger would.
func TestDoubtsGolden(t *testing.T) {
	dir, at := site(t), t.TempDir()
	write(t, filepath.Join(dir, "overlays", "water.geojson"), `{"type": "FeatureCollection", "features": [
 {"type": "Feature", "properties": {"label": "MAIN 6", "accuracy": "2 ft", "depth": "4 ft", "depth_of": "top", "depth_accuracy": "3 in", "date": "1998"},
  "geometry": {"type": "LineString", "coordinates": [[-140.50002, 40.4999], [-140.50002, 40.5002]]}}]}`)
	write(t, filepath.Join(dir, job.FileName), jobText+"\n[[overlay]]\nfile = \"overlays/water.geojson\"\nutility = \"water\"\n")
	good := reading("good", 0, 1, properties{"label": "fits"})
	place := func(e entry, east float64) entry {
		f := e["feature"].(map[string]any)
		north := f["geometry"].(map[string]any)["coordinates"].([]float64)[1]
		return e.shaped("Point", []float64{-140.50002 + east/84_800, north})
	}
	book := filepath.Join(at, "valve-12.fieldbook")
	add(t, book,
		place(good, 0.3), // within what is stated of both
		place(reading("off", 1, 2, properties{"label": "off the record"}), 3),
		place(reading("deep", 2, 3, properties{"label": "deeper", "depth_m": 2.0, "depth_reference": "top", "depth_accuracy_m": 0.1}), 0),
		place(reading("high", 3, 4, properties{"label": "shallower", "depth_m": 0.4, "depth_reference": "top"}), 0),
		place(reading("part", 4, 5, properties{"label": "to the bottom", "depth_m": 2.0, "depth_reference": "bottom"}), 0),
		reading("rough", 5, 6, properties{"utility": "gas", "position": map[string]any{"from": "receiver", "stated_m": 2.5}}),
		reading("huge", 6, 7, properties{"utility": "gas", "position": map[string]any{"from": "typed", "error_m": 5000.0}}),
		reading("none", 7, 8, properties{"utility": "gas", "position": map[string]any{"from": "cross"}}),
		reading("replay", 7, 8, properties{"utility": "gas", "position": map[string]any{"from": "receiver", "stated_m": 0.03, "recorded": true}}),
		reading("old", 7, 8, properties{"utility": "gas", "position": map[string]any{"from": "receiver", "stated_m": 0.03, "age_s": 41.2}}),
		reading("fresh", 7, 8, properties{"utility": "gas", "position": map[string]any{"from": "receiver", "stated_m": 0.03, "age_s": 4.9}}),
		reading("far", 8, 900, properties{"utility": "gas"}),
		reading("unit", 9, 9, properties{"utility": "gas", "depth_m": 30.0}),
		reading("skin", 10, 9, properties{"utility": "gas", "depth_m": 0.01}),
		reading("two", 11, 10, properties{"utility": "gas"}),
		reading("two", 11, 10, properties{"utility": "gas", "depth_m": 0.9}).then("two-b", "write", 12, "two"),
		reading("two", 11, 10, properties{"utility": "gas", "depth_m": 0.8}).then("two-c", "write", 13, "two"),
		reading("gone", 14, 11, properties{"utility": "sewer"}),
		reading("nobody", 15, 11.95, properties{"kind": "nothing found", "utility": "sewer", "depth_m": nil, "depth_as_typed": nil, "quality_level": nil}),
		reading("nor here", 15, 12.1, properties{"kind": "nothing found", "utility": "sewer", "depth_m": nil, "depth_as_typed": nil, "quality_level": nil}),
		reading("another", 15, 11, properties{"kind": "nothing found", "utility": "reclaimed", "depth_m": nil, "depth_as_typed": nil, "quality_level": nil}),
		reading("about", 16, 11, properties{"kind": "nothing found", "utility": "sewer", "depth_m": nil, "depth_as_typed": nil, "quality_level": nil}).
			shaped("Polygon", [][][]float64{{{-140.501, 40.4999}, {-140.499, 40.4999}, {-140.499, 40.501}, {-140.501, 40.501}, {-140.501, 40.4999}}}),
		reading("elsewhere", 14, 10, nil).then("half", "strike", 14, "elsewhere"),
		reading("elsewhere", 14, 10, nil).then("half-2", "restore", 15, "half"),
	)
	var told strings.Builder
	for _, d := range run(t, dir, book).Doubts {
		fmt.Fprintf(&told, "%s: %s\n", d.Kind, d.Detail)
	}
	golden.Hold(t, "doubts", told.String())
}

// Of marks taken at the cross none states an error: that is told once, with all of them named.
func TestNoErrorIsToldOnce(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	var all []entry
	var ids []string
	for i := range 12 {
		name := fmt.Sprint("cross", i)
		all, ids = append(all, reading(name, float64(i), float64(i), properties{"position": map[string]any{"from": "cross"}})), append(ids, id(name))
	}
	add(t, book, all...)
	told := run(t, dir, book).Doubts
	if len(told) != 1 || told[0].Kind != "no error stated" || !strings.Contains(told[0].Detail, " and 11 more marks: no error is stated") {
		t.Fatalf("%+v", told)
	}
	if got := append([]string{told[0].Mark}, told[0].Also...); !slices.Equal(slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(ids))) {
		t.Errorf("%v, want %v", got, ids)
	}
}

// Whatever texts a phone sends come home as texts, and the job can be packed.
func TestHostileTexts(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	hostile := []string{"<script>alert(1)</script>", "\u202egas", "'; DROP TABLE entry; --", "a\x1b[2J", "{{group.name}}", "../../etc/passwd", "[[overlay]]\nfile = \"x\"",
		strings.Repeat("long ", 400)}
	var all []entry
	for i, text := range hostile {
		p := properties{"position": map[string]any{"from": "typed", "grounds": text, text: text, "frame": text}, "instrument": map[string]any{"line": text},
			"depth": text, "depth_ft": 3.0, "accuracy": text, "accuracy_in": "x", "status_as_read": text, "width_m": text, "decimals": 1.0, "current_ma": 4.0}
		for _, name := range []string{"note", "label", "owner", "method", "depth_reference", "depth_as_typed", "reason", "size", "material", "status"} {
			p[name] = text
		}
		e := reading(fmt.Sprint("h", i), float64(i), float64(i), p)
		e["who"] = text[:min(len(text), 100)]
		all = append(all, e)
	}
	add(t, book, all...)
	r := run(t, dir, book)
	if r.Marks != len(hostile) {
		t.Errorf("%+v", r)
	}
	j, err := job.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	in, err := j.ReadInputs()
	if err != nil || len(in.Overlays) != 1 || len(in.Overlays[0].Features) != len(hostile) {
		t.Fatalf("%v", err)
	}
	for i, f := range in.Overlays[0].Features {
		if f.Properties["note"] != strings.TrimSpace(hostile[i]) && f.Properties["note"] != hostile[i] {
			t.Errorf("note %q", f.Properties["note"])
		}
		for name, v := range f.Properties {
			switch v.(type) {
			case string, float64, bool:
			default:
				t.Errorf("%s is %T", name, v)
			}
		}
	}
}

func TestPhotosStayInTheBook(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	data, hash := picture(t, 3, 40)
	_, missing := picture(t, 5, 40)
	photos := []any{map[string]any{"hash": hash, "type": "image/jpeg", "bytes": len(data)}, map[string]any{"hash": missing, "type": "image/jpeg", "bytes": 900}}
	add(t, book, reading("a", 0, 1, properties{"photos": photos}))
	if r := run(t, dir, book); r.Books[0].Photos != 0 || r.Books[0].Missing != 2 {
		t.Errorf("%+v", r.Books)
	}
	addPhoto(t, book, data, hash)
	r := run(t, dir, book)
	if r.Books[0].State != collect.Longer || r.Books[0].Photos != 1 || r.Books[0].Missing != 1 || !r.Written {
		t.Errorf("%+v", r)
	}
	text := files(t, dir)[filepath.Join(dir, "overlays", "found-water.geojson")]
	if !strings.Contains(text, `"photo":"`+hash+`.jpg"`) {
		t.Error(text)
	}
	if names := slices.Sorted(maps.Keys(files(t, filepath.Join(dir, collect.Folder)))); len(names) != 2 {
		t.Error(names)
	}
}

// Two laptops that were told different things under one identity: one is taken, it is told.
func TestForgedIdentity(t *testing.T) {
	dir, at := site(t), t.TempDir()
	one, two := filepath.Join(at, "one.fieldbook"), filepath.Join(at, "two.fieldbook")
	add(t, one, reading("a", 0, 1, nil), reading("b", 0, 1, nil))
	add(t, two, reading("a", 0, 1, properties{"depth_m": 9.0}), reading("b", 0, 1, nil))
	r := run(t, dir, one, two)
	told := slices.DeleteFunc(r.Doubts, func(d collect.Doubt) bool { return d.Kind != "two texts" })
	if r.Marks != 2 || len(told) != 1 || told[0].Mark != id("a") {
		t.Errorf("%+v", r)
	}
}

// The job states a datum of what was found only where all positions are known to be on it.
func TestDatumOfFound(t *testing.T) {
	dir, at := site(t), t.TempDir()
	stated := func() string {
		j, err := job.Read(dir)
		if err != nil || len(j.Overlays) != 1 {
			t.Fatal(err, j.Overlays)
		}
		return j.Overlays[0].Datum
	}
	position := func(kind, frame string) properties {
		return properties{"position": map[string]any{"from": "receiver", "kind": kind, "stated_m": 2.0, "frame": frame}}
	}
	book := filepath.Join(at, "valve-12.fieldbook")
	for i, c := range []struct {
		more properties
		want string
	}{
		{position("autonomous", "NAD83(2011)"), "WGS 84"}, // the frame of corrections that it had none of
		{position("phone", ""), "WGS 84"},
		{properties{"position": map[string]any{"from": "cross"}}, "WGS 84"},
		{position("rtk-fixed", ""), ""},
		{position("rtk-fixed", "NAD83(2011)"), ""},
	} {
		add(t, book, reading(fmt.Sprint("d", i), float64(i), float64(i), c.more))
		run(t, dir, book)
		if got := stated(); got != c.want {
			t.Errorf("after %d: %q, want %q", i+1, got, c.want)
		}
	}
	text := files(t, dir)[filepath.Join(dir, job.FileName)]
	write(t, filepath.Join(dir, job.FileName), strings.Replace(text, `record = "field book"`, "record = \"field book\"\ndatum = \"NAD83(2011)\"", 1))
	add(t, book, reading("e", 20, 5, position("autonomous", "")))
	if run(t, dir, book); stated() != "NAD83(2011)" {
		t.Error("the office's own word was taken away")
	}
}

// Runs have names that people can read; one reading alone is no line.
func TestRunsAreNamed(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "valve-12.fieldbook")
	of := func(name string, minute float64, run string, more properties) entry {
		p := properties{"line": id(run)}
		maps.Copy(p, more)
		return reading(name, minute, minute, p)
	}
	add(t, book, of("a1", 5, "a", nil), of("a2", 6, "a", nil), of("b1", 1, "b", properties{"label": "MAIN 6"}), of("b2", 2, "b", nil), of("c", 3, "c", nil))
	run(t, dir, book)
	j, err := job.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	in, err := j.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range in.Overlays[0].Features {
		name, _ := f.Properties["line"].(string)
		got[f.Properties["run"].(string)] += "[" + name + "]"
	}
	want := map[string]string{id("b"): "[MAIN 6, run 1 of 2026-11-29][MAIN 6, run 1 of 2026-11-29]",
		id("a"): "[run 2 of 2026-11-29][run 2 of 2026-11-29]", id("c"): "[]"}
	if !maps.Equal(got, want) {
		t.Error(got)
	}
}

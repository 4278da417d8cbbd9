package handover

import (
	"encoding/csv"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/collect"
	"groundsheet/tiles/words/golden"
)

// withoutReport are the forms that need no pack.
func withoutReport() []Form {
	return slices.DeleteFunc(Forms(), func(f Form) bool { return f == Report })
}

func handed(t testing.TB, book, to string, o Options) Summary {
	t.Helper()
	if o.Forms == nil {
		o.Forms = withoutReport()
	}
	o.Name, o.Units = "Valve 12", "us"
	s, err := Write(t.Context(), []string{book}, to, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var hashes = regexp.MustCompile(`[0-9a-f]{64}`)

// plain is a text without what is of the book's own making.
func plain(data []byte) string {
	return hashes.ReplaceAllString(strings.ReplaceAll(string(data), "\r\n", "\n"), "HASH")
}

func TestForms(t *testing.T) {
	book, to := bookOf(t, marks(t)), filepath.Join(t.TempDir(), "out", "handover")
	s := handed(t, book, to, Options{})
	if s.Found != 10 || s.WorkedOut != 1 || s.NoPlace != 1 || s.Struck != 1 || s.Versions != 1 || s.NoPhoto != 1 || !s.Whole {
		t.Errorf("%+v", s)
	}
	for _, name := range []string{"READ-FIRST.txt", "valve-12-found.geojson", "valve-12-found.csv", "valve-12-found.kml", "valve-12-found.gpx",
		"valve-12-found-fields.txt", "valve-12-found.dxf"} {
		data, err := os.ReadFile(filepath.Join(to, name))
		if err != nil {
			t.Fatal(err)
		}
		golden.Hold(t, name, plain(data))
	}
	first := contents(t, to)
	handed(t, book, to, Options{})
	if again := contents(t, to); len(again) != len(first) {
		t.Error("another list of files")
	} else {
		for name := range first {
			if first[name] != again[name] {
				t.Errorf("%s has other bytes the second time", name)
			}
		}
	}
	if all, err := os.ReadDir(filepath.Dir(to)); err != nil || len(all) != 1 {
		t.Errorf("left beside it: %v, %v", all, err)
	}
}

func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	files, err := list(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, f := range files {
		all[f.Name] = f.SHA256
	}
	return all
}

// TestOnlyAHandOverIsReplaced: what somebody else put there, or changed, stays.
func TestOnlyAHandOverIsReplaced(t *testing.T) {
	book := bookOf(t, marks(t))
	for name, spoil := range map[string]func(dir string) error{
		"a file more": func(dir string) error { return os.WriteFile(filepath.Join(dir, "mine.txt"), nil, 0o644) },
		"changed": func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "valve-12-found.csv"), []byte("x"), 0o644)
		},
		"the text changed": func(dir string) error {
			text, err := os.ReadFile(filepath.Join(dir, ReadFirst))
			return errors.Join(err, os.WriteFile(filepath.Join(dir, ReadFirst), []byte(strings.Replace(string(text), "Valve 12", "Valve 13", 1)), 0o644))
		},
		"the text goes on": func(dir string) error {
			text, err := os.ReadFile(filepath.Join(dir, ReadFirst))
			return errors.Join(err, os.WriteFile(filepath.Join(dir, ReadFirst), append(text, "called the owner\r\n"...), 0o644))
		},
		"no list":      func(dir string) error { return os.Remove(filepath.Join(dir, ReadFirst)) },
		"not a folder": func(dir string) error { return errors.Join(os.RemoveAll(dir), os.WriteFile(dir, []byte("x"), 0o644)) },
	} {
		to := filepath.Join(t.TempDir(), "handover")
		handed(t, book, to, Options{Forms: []Form{CSV}})
		if err := spoil(to); err != nil {
			t.Fatal(err)
		}
		before, _ := list(t.Context(), to)
		_, err := Write(t.Context(), []string{book}, to, Options{Forms: []Form{CSV}, Name: "Valve 12"})
		if after, _ := list(t.Context(), to); !errors.Is(err, Misuse) || !slices.Equal(before, after) {
			t.Errorf("%s: %v, %v", name, err, after)
		}
	}
}

// TestCut: what is left out is counted, what touches the area is whole, and the text says
// that it is a part.
func TestCut(t *testing.T) {
	book, to := bookOf(t, marks(t)), filepath.Join(t.TempDir(), "handover")
	area := orb.MultiPolygon{{{{-140.49672, 40.49859}, {-140.4967, 40.49859}, {-140.4967, 40.49862}, {-140.49672, 40.49859}}}}
	s := handed(t, book, to, Options{Forms: []Form{CSV}, Area: area, AreaName: "north.geojson", Utilities: []string{"water", "sewer"}})
	text, err := os.ReadFile(filepath.Join(to, ReadFirst))
	if err != nil || !strings.Contains(string(text), "THIS IS A PART") || !strings.Contains(string(text), "north.geojson") {
		t.Errorf("%v\n%s", err, text)
	}
	if s.Found != 3 || s.LeftOut != 7 { // the first reading, the line through it, and what has no place
		t.Errorf("%+v", s)
	}
}

func TestRefuses(t *testing.T) {
	book := bookOf(t, marks(t))
	for name, o := range map[string]Options{
		"no form":           {},
		"a form":            {Forms: []Form{"dwg"}},
		"a utility":         {Forms: []Form{CSV}, Utilities: []string{"oil"}},
		"records, no pack":  {Forms: []Form{CSV}, WithRecords: true},
		"a report, no pack": {Forms: []Form{Report}},
		"tiles elsewhere":   {Forms: []Form{CSV}, Tiles: true},
	} {
		to := filepath.Join(t.TempDir(), "out", "handover")
		if _, err := Write(t.Context(), []string{book}, to, o); !errors.Is(err, Misuse) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := os.Stat(filepath.Dir(to)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: something was written: %v", name, err)
		}
	}
}

func TestGround(t *testing.T) {
	for name, c := range map[string]struct {
		epsg  int
		shift string
		ok    bool
	}{
		"degrees":            {0, "", true},
		"UTM":                {32611, "", true},
		"UTM, shifted":       {32611, "WGS 84 to NAD83(2011) at 2031.3", false},
		"a shift alone":      {0, "none", false},
		"NAD83, unsaid":      {2231, "", false},
		"NAD83, as they are": {2231, "none", true},
		"NAD83, shifted":     {6428, "WGS 84 to NAD83(2011) at 2031.3", true},
		"no epoch":           {6428, "WGS 84 to NAD83(2011)", false},
		"long ago":           {6428, "WGS 84 to NAD83(2011) at 1931", false},
		"another datum":      {25832, "WGS 84 to NAD83(2011) at 2031.3", false},
		"NAD27":              {26741, "none", false},
	} {
		if _, err := NewGround(c.epsg, c.shift); (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestShift: numbers move by the shift and no other, and those that are on NAD83 already
// stay.
func TestShift(t *testing.T) {
	at := orb.Point{-105.2, 40}
	shifted, err := NewGround(6318, "WGS 84 to NAD83(2011) at 2031.3")
	if err != nil {
		t.Fatal(err)
	}
	wgs := Find{Geometry: at, Values: map[string]any{}}
	for _, stated := range []string{"NAD83", "NAD 83 (2011)", "ETRS89"} {
		if got, err := shifted.place(Find{Geometry: at, Values: map[string]any{"frame": stated}}); err != nil || got != orb.Geometry(at) {
			t.Errorf("%s: %v, %v", stated, got, err)
		}
	}
	nad := Find{Geometry: at, Values: map[string]any{"frame": "NAD83(2011) epoch 2010"}}
	moved, err := shifted.place(wgs)
	if err != nil {
		t.Fatal(err)
	}
	stays, err := shifted.place(nad)
	if err != nil || stays != orb.Geometry(at) {
		t.Errorf("%v, %v", stays, err)
	}
	if d := distance(moved.(orb.Point), at); d < 1 || d > 2 {
		t.Errorf("moved by %v m", d)
	}
	if a, b := shifted.datum(wgs), shifted.datum(nad); a == b || !strings.Contains(a, "EPSG:8970") {
		t.Error(a, b)
	}
}

// TestWithAPack: records go along apart and without the marks that came home, tiles and
// features are in one file, the report says what it has to, and all of it is the same
// the second time.
func TestWithAPack(t *testing.T) {
	book, p := bookOf(t, marks(t)), packOf(t)
	o := Options{Forms: []Form{GeoPackage, CSV, Report}, Pack: p, WithRecords: true, Tiles: true}
	to := filepath.Join(t.TempDir(), "handover")
	if s := handed(t, book, to, o); s.Records != 1 {
		t.Errorf("%+v", s)
	}
	records, err := os.ReadFile(filepath.Join(to, "valve-12-records.csv"))
	if text := string(records); err != nil || !strings.Contains(text, "6 in") || !strings.Contains(text, "41in") || !strings.Contains(text, "NAD83 as stated") ||
		!strings.Contains(text, `{""crew"":7}`) || strings.Contains(text, idOf("r1")) {
		t.Errorf("%v\n%s", err, text)
	}
	first := contents(t, to)
	handed(t, book, to, o)
	for name, hash := range contents(t, to) {
		if first[name] != hash {
			t.Errorf("%s has other bytes the second time", name)
		}
	}
	pdf, err := os.ReadFile(filepath.Join(to, "valve-12-report.pdf"))
	if err != nil || !strings.HasPrefix(string(pdf), "%PDF") {
		t.Error(err)
	}
	p.Info.About.Source.CopiesOnPhones = ""
	if _, err := Write(t.Context(), []string{book}, to, o); !errors.Is(err, Misuse) {
		t.Errorf("the base map went along without its terms: %v", err)
	}
}

// FuzzCell: whatever a text holds, no cell is a formula or acts on a screen.
func FuzzCell(f *testing.F) {
	for _, s := range []string{hostile, "=1+1", "\t=1", "\uff1d1", "+1 (555)", "-", "@x", "\x1b[2J", "plain"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := cell(s)
		if formula.MatchString(got) || strings.ContainsAny(got, "\x00\x07\x1b\r\u202e") {
			t.Errorf("%q became %q", s, got)
		}
	})
}

// TestALineRunsThroughItsReadings: also where they are on two datums and a shift moves some.
func TestALineRunsThroughItsReadings(t *testing.T) {
	of := func(name, frame string, minutes int, at string) mark {
		return mark{name: name, minutes: minutes, geometry: `{"type":"Point","coordinates":` + at + `}`, properties: map[string]any{
			"kind": "reading", "utility": "gas", "line": idOf("run"), "position": map[string]any{"from": "receiver", "frame": frame}}}
	}
	book := bookOf(t, []mark{of("a", "NAD83(2011)", 0, "[-104.9,39.5]"), of("b", "", 1, "[-104.9,39.5001]"), of("c", "ITRF2020", 2, "[-104.9,39.5002]")})
	m, err := gather(t.Context(), []string{book})
	if err != nil {
		t.Fatal(err)
	}
	defer m.close()
	if err := m.narrow(t.Context(), Options{}); err != nil || len(m.found) != 4 {
		t.Fatal(len(m.found), err)
	}
	for _, shift := range []string{"none", "WGS 84 to NAD83(2011) at 2031.3"} {
		g, err := NewGround(6428, shift)
		if err != nil {
			t.Fatal(err)
		}
		line, err := g.place(m.found[3])
		if err != nil {
			t.Fatal(err)
		}
		for i, f := range m.found[:3] {
			at, err := g.place(f)
			if err != nil || at != orb.Geometry(line.(orb.MultiLineString)[0][i]) {
				t.Errorf("%s: reading %d at %v, the line at %v, %v", shift, i, at, line, err)
			}
		}
	}
	if d := (Ground{}).datum(m.found[3]); !strings.Contains(d, "not on one datum") {
		t.Error(d)
	}
}

// TestNamesOfRuns: a line is handed over under the name with which it came home; its ID stays as
// "run". Without a name the line has its ID.
func TestNamesOfRuns(t *testing.T) {
	dir, book := t.TempDir(), bookOf(t, marks(t))
	const text = "name = \"Valve 12\"\n[[around]]\ncenter = \"40.49865,-140.49668\"\nradius = \"100ft\"\n[[base]]\nsource = \"practice\"\nzooms = [17, 18]\n"
	if err := os.WriteFile(filepath.Join(dir, "job.toml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	runsOf := func() map[[3]string]int {
		t.Helper()
		to := filepath.Join(t.TempDir(), "handover")
		if _, err := OfJob(t.Context(), dir, Request{Books: []string{book}, Folder: to, Options: Options{Forms: []Form{CSV}}}); err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(filepath.Join(to, "valve-12-found.csv"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		at := func(name string) int { return slices.Index(rows[0], name) }
		n := map[[3]string]int{}
		for _, row := range rows[1:] {
			if run := row[at("run")]; run != "" {
				n[[3]string{row[at("source")], row[at("line")], run}]++
			}
		}
		return n
	}
	run := idOf("run")
	if got, want := runsOf(), (map[[3]string]int{{"field book", run, run}: 2, {"worked out", run, run}: 1}); !maps.Equal(got, want) {
		t.Errorf("not collected: %v, want %v", got, want)
	}
	if _, err := collect.Run(t.Context(), dir, []string{book}, collect.Options{AnyJob: true}); err != nil {
		t.Fatal(err)
	}
	name := "run 1 of 2031-05-06"
	if got, want := runsOf(), (map[[3]string]int{{"field book", name, run}: 2, {"worked out", name, run}: 1}); !maps.Equal(got, want) {
		t.Errorf("collected: %v, want %v", got, want)
	}
	for line, want := range map[string]string{name: name, run: run[:7] + "…"} {
		if got := (Find{Values: map[string]any{"line": line, "run": run}}).lineName(); got != want {
			t.Errorf("on paper: %q, want %q", got, want)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "fieldbooks", "runs.json"), []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := OfJob(t.Context(), dir, Request{Folder: filepath.Join(dir, "out"), Options: Options{Forms: []Form{CSV}}}); !errors.Is(err, collect.Broken) {
		t.Errorf("names that cannot be read: %v", err)
	}
}

package main

import (
	"bytes"
	"context"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/sqlite"
)

type packed struct {
	File                                                     string
	Wanted, Tiles, Fetched, Unchanged, Reused, Absent, Bytes int64
	Requests                                                 int64
	Verdict                                                  string
}

// TestLine runs the whole line: new, plan, pack, check, and again.
func TestLine(t *testing.T) {
	o := newDesk(t)
	source := o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	before := o.snapshot()
	var plan plan.Document
	decode(t, o.must(0, "plan", o.path("site"), "--json"), &plan)
	if !maps.Equal(before, o.snapshot()) {
		t.Error("plan changed the disk")
	}
	if source.Server.Counts().Requests != 0 {
		t.Error("plan asked the source")
	}
	if plan.Tiles < 20 || plan.Fetch != plan.Tiles || plan.Refused != nil || len(plan.Zooms) != 6 || !plan.Guessed {
		t.Fatalf("the plan: %+v", plan)
	}
	var first packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &first)
	if first.Tiles != plan.Tiles || first.Fetched != plan.Tiles || first.Verdict != check.Fit {
		t.Errorf("plan wants %d tiles, packed %+v", plan.Tiles, first)
	}
	asked := source.Server.Counts().Requests
	var second packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &second)
	if second.Fetched != 0 || second.Reused != plan.Tiles || second.Requests != 0 || source.Server.Counts().Requests != asked {
		t.Errorf("the second run fetched again: %+v", second)
	}
	if out := o.must(0, "pack", o.path("site")); !strings.Contains(out, "nothing was fetched") {
		t.Errorf("a run that reuses everything does not say so:\n%s", out)
	}
	decode(t, o.must(0, "plan", o.path("site"), "--json"), &plan)
	if plan.Fetch != 0 || plan.Guessed || plan.Zooms[5].Held != plan.Zooms[5].Tiles {
		t.Errorf("the plan after packing: %+v", plan)
	}
	o.must(0, "check", o.packPath(), "--against", o.path("site"))
}

// TestDamageIsNamed takes a tile out and breaks others, each to be found.
func TestDamageIsNamed(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	deep := tiles.At(-140.5, 40.5, 20)
	east := deep
	east.X++
	north := deep
	north.Y--
	db := sqlite.Open(o.packPath(), sqlite.Options{Settings: "mode=rw"})
	exec := func(query string, args ...any) {
		t.Helper()
		if r, err := db.Exec(query, args...); err != nil {
			t.Fatal(err)
		} else if n, _ := r.RowsAffected(); n != 1 {
			t.Fatalf("%d rows changed by %s", n, query)
		}
	}
	const where = ` WHERE zoom_level=? AND tile_column=? AND tile_row=?`
	exec(`DELETE FROM tiles`+where, deep.Z, deep.X, deep.TMSRow())
	exec(`UPDATE tiles SET tile_data='<html>no</html>'`+where, east.Z, east.X, east.TMSRow())
	exec(`UPDATE tiles SET tile_data=(SELECT tile_data FROM tiles WHERE zoom_level=15 LIMIT 1)`+where, north.Z, north.X, north.TMSRow())
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	var r check.Report
	decode(t, o.must(exitNotFit, "check", o.packPath(), "--json"), &r)
	want := map[string]tiles.ID{"missing": deep, "unreadable": east, "changed": north}
	for _, f := range r.Findings {
		id, ok := want[f.Kind]
		if ok && f.Severity == check.Fault && f.Tile != nil && (tiles.ID{Z: f.Tile.Z, X: f.Tile.X, Y: f.Tile.Y}) == id {
			delete(want, f.Kind)
		}
	}
	if len(want) > 0 || r.Verdict != check.NotFit {
		t.Errorf("not found: %v in %+v", want, r)
	}
	if out := o.must(exitNotFit, "check", o.packPath()); !strings.Contains(out, deep.String()) || !strings.Contains(out, "not fit") {
		t.Errorf("the words do not name the tile:\n%s", out)
	}
	// Packing again mends it from the store.
	o.must(0, "pack", o.path("site"))
}

// TestHolesAreNamed packs where the source ends inside the job.
func TestHolesAreNamed(t *testing.T) {
	o := newDesk(t)
	ends := tiles.Box{West: -141, South: 40, East: -140.5, North: 41}
	o.startSource(practice.Options{Area: &ends, BusyEvery: -1})
	o.newJob()
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Absent == 0 || p.Tiles+p.Absent != p.Wanted {
		t.Fatalf("%+v", p)
	}
	out := o.must(0, "check", o.packPath())
	if !strings.Contains(out, "hole") || !strings.Contains(out, "is enlarged there") {
		t.Errorf("holes are not named:\n%s", out)
	}
	// A hole is not asked for again while it is fresh.
	var again packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &again)
	if again.Requests != 0 || again.Absent != p.Absent {
		t.Errorf("%+v", again)
	}
}

// TestBlankIsNotFit: nothing to show anywhere in the area.
func TestBlankIsNotFit(t *testing.T) {
	o := newDesk(t)
	elsewhere := tiles.Box{West: 10, South: 10, East: 11, North: 11}
	o.startSource(practice.Options{Area: &elsewhere, BusyEvery: -1})
	o.newJob()
	if out := o.must(exitNotFit, "pack", o.path("site")); !strings.Contains(out, "blank") {
		t.Errorf("%s", out)
	}
}

// TestAgainstAChangedJob: a pack that was fit is not, once the job grows.
func TestAgainstAChangedJob(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	job, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	o.write("site/job.toml", strings.Replace(string(job), "zooms = [15, 20]", "zooms = [15, 21]", 1))
	out := o.must(exitNotFit, "check", o.packPath(), "--against", o.path("site"))
	if !strings.Contains(out, "missing") {
		t.Errorf("%s", out)
	}
}

// TestFitIn: a pack larger than the device is not fit.
func TestFitIn(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob("--fit-in", "20kB")
	if out := o.must(0, "plan", o.path("site")); !strings.Contains(out, "more than fit_in") {
		t.Errorf("plan: %s", out)
	}
	if out := o.must(exitNotFit, "pack", o.path("site")); !strings.Contains(out, "too large") {
		t.Errorf("pack: %s", out)
	}
}

// TestBuiltInPractice needs no sources file at all.
func TestBuiltInPractice(t *testing.T) {
	o := newDesk(t)
	out := o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "60ft", "--zooms", "17,19")
	if !strings.Contains(out, "invented imagery") {
		t.Errorf("new does not say that the imagery is invented:\n%s", out)
	}
	o.must(0, "pack", o.path("site"))
	p, err := pack.Open(t.Context(), o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if !p.Info.About.Invented {
		t.Error("the pack does not say that it is invented")
	}
}

// TestRouteAndFile makes jobs from the other two shapes.
func TestRouteAndFile(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	route := o.write("r.geojson", `{"type":"LineString","coordinates":[[-140.5,40.5],[-140.499,40.5005]]}`)
	square := o.write("a.geojson", `{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.4995,40.5],[-140.4995,40.5004],[-140.5,40.5004],[-140.5,40.5]]]}}`)
	o.must(0, "new", o.path("along"), "--name", "Route", "--along", route, "--width", "60ft", "--zooms", "16,19")
	o.must(0, "pack", o.path("along"))
	o.must(0, "new", o.path("file"), "--name", "Area", "--area", square, "--area", square, "--zooms", "16,19", "--units", "metric", "--margin", "5m",
		"--ticket", "T-1", "--valid-until", "2031-01-31")
	o.must(0, "pack", o.path("file"))
}

// TestServeSaysNotFit: a pack that is served is checked at the same time.
func TestServeSaysNotFit(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	serve := func() string {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		var out, errs bytes.Buffer
		a := &app{out: &out, err: &errs, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
		if code := a.run(ctx, []string{"serve", o.packPath(), "--listen", "127.0.0.1:0"}); code != 0 {
			t.Fatalf("exit %d: %s", code, errs.String())
		}
		return out.String()
	}
	if out := serve(); !strings.Contains(out, "is fit") || !strings.Contains(out, "map: http://127.0.0.1:") {
		t.Errorf("%s", out)
	}
	db := sqlite.Open(o.packPath(), sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`DELETE FROM tiles WHERE zoom_level=20`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if out := serve(); !strings.Contains(out, "NOT FIT") {
		t.Errorf("%s", out)
	}
}

// TestKeyAndFirstZoom: a source that begins at zoom 8 and wants a key, as
// county servers do. Without the key nothing is asked or made; with it the key
// shows up nowhere.
func TestKeyAndFirstZoom(t *testing.T) {
	o := newDesk(t)
	const secret = "s3cret+/%&key"
	draws := practice.New(practice.Options{BusyEvery: -1})
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		if r.URL.Query().Get("key") != secret {
			http.Error(w, "no key", http.StatusForbidden)
			return
		}
		draws.ServeHTTP(w, r)
	}))
	defer server.Close()
	o.write("sources.toml", strings.Replace(sourceText("county", server.URL+"/{z}/{x}/{y}.jpg?key={key}", `key_env = "TEST_COUNTY_KEY"`), "[0, 22]", "[8, 21]", 1))
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "30ft", "--zooms", "17,19")
	before := o.snapshot()
	if code, _, errText := o.do("pack", o.path("site")); code != exitUse || !strings.Contains(errText, "TEST_COUNTY_KEY") || asked.Load() > 0 || !maps.Equal(before, o.snapshot()) {
		t.Errorf("without the key: exit %d, %d asked: %s", code, asked.Load(), errText)
	}
	t.Setenv("TEST_COUNTY_KEY", secret)
	out := o.must(0, "pack", o.path("site"), "--json")
	for path := range o.snapshot() {
		data, err := os.ReadFile(path)
		if err == nil && bytes.Contains(data, []byte("s3cret")) {
			t.Errorf("the key is in %s", path)
		}
	}
	if strings.Contains(out, "s3cret") {
		t.Error("the key is in the output")
	}
}

package office

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/practice"
)

// quiet is an office with a store of its own and a source "town" that runs; more is
// appended to the terms of the source.
func quiet(t testing.TB, more string) (Office, *practice.Running) {
	t.Helper()
	running, err := practice.Start(t.Context(), "", practice.Options{BusyEvery: -1, MaxAge: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = running.Close() })
	dir := t.TempDir()
	write(t, filepath.Join(dir, "sources.toml"), fmt.Sprintf("[town]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 22]\n"+
		"[bare]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 22]\n"+
		"[town.terms]\noffline = \"allowed\"\nrequests_per_second = 2000\nconnections = 4\n%s\n", running.URL, running.URL, more))
	return Office{StoreAt: filepath.Join(dir, "store"), SourcesFile: filepath.Join(dir, "sources.toml")}, running
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// lotJob is a job folder with a circle, a line of water, and what is appended to its text.
func lotJob(t testing.TB, more string) string {
	t.Helper()
	dir := t.TempDir()
	write(t, filepath.Join(dir, "water.geojson"), `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-140.5002,40.5],[-140.4998,40.5]]}}`)
	write(t, filepath.Join(dir, job.FileName), `name = "Lot"
margin = "50ft"
`+more+`
[[around]]
center = "40.5, -140.5"
radius = "200ft"
[[base]]
source = "town"
zooms = [15, 20]
[[overlay]]
file = "water.geojson"
utility = "water"
quality_level = "D"
`)
	return dir
}

func star(t testing.TB, corners int, meters float64) *area.Area {
	t.Helper()
	var ring orb.Ring
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
		r := meters / 111_000 * (0.8 + 0.2*math.Sin(float64(i*7)))
		ring = append(ring, orb.Point{-140.5 + r*cos, 40.5 + r*sin})
	}
	a, err := area.Polygons([]geojson.Feature{{Geometry: orb.Polygon{append(ring, ring[0])}, Place: "drawn"}})
	if err != nil {
		t.Fatal(err)
	}
	return &a
}

// TestDraftIsThePlan: without a change the draft is what the job's plan says; with
// one it is what the changed job's plan says. Nothing is written.
func TestDraftIsThePlan(t *testing.T) {
	o, running := quiet(t, "")
	dir := lotJob(t, "")
	before := snapshot(t, dir)
	w, err := o.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	plans, err := w.Plans(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	d := &Drafts{Office: o}
	got, err := d.Plan(t.Context(), Draft{Dir: dir, Version: "1"})
	if err != nil || got.Tiles != plans[0].Tiles || got.Bytes != plans[0].Bytes || got.Total != plans[0].TotalWords() {
		t.Errorf("%+v, %v; the job has %d tiles", got, err, plans[0].Tiles)
	}
	a, _ := area.Around(40.5, -140.5, (300 * measure.Foot))
	more, err := d.Plan(t.Context(), Draft{Dir: dir, Version: "1", Shapes: &a, Change: func(j *job.Job) {
		j.Margin, j.Bases[0].Zooms.Max = 0, 21
	}})
	if err != nil || more.Tiles <= got.Tiles || more.Zooms[len(more.Zooms)-1].Zoom != 21 {
		t.Errorf("%+v, %v", more, err)
	}
	if again, err := d.Plan(t.Context(), Draft{Dir: dir, Version: "1"}); err != nil || again.Tiles != got.Tiles {
		t.Errorf("a draft changed what was read: %d tiles, %v", again.Tiles, err)
	}
	features, err := geojson.Read(got.Outline)
	if err != nil || len(features) != 2 || features[1].Properties["zoom"] != 20.0 {
		t.Errorf("%v, %v", features, err)
	}
	if running.Server.Counts().Requests != 0 || snapshot(t, dir) != before {
		t.Error("a draft asked or wrote something")
	}
	if _, err := os.Stat(o.StoreAt); !errors.Is(err, os.ErrNotExist) {
		t.Error("a draft made a store")
	}
}

// snapshot is the names and contents of a folder.
func snapshot(t testing.TB, dir string) string {
	t.Helper()
	var all strings.Builder
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, _ := os.ReadFile(filepath.Join(dir, e.Name()))
		fmt.Fprintf(&all, "%s\n%s\n", e.Name(), data)
	}
	return all.String()
}

// TestDraftRefuses: what cannot be planned says why, and what may not be fetched too.
func TestDraftRefuses(t *testing.T) {
	o, _ := quiet(t, "tiles_per_job = 10")
	d := &Drafts{Office: o}
	for says, draft := range map[string]Draft{
		"no area is drawn":      {Shapes: &area.Area{}},
		"no source is named":    {Shapes: star(t, 5, 50), Change: func(j *job.Job) { j.Bases[0].Source = "none" }},
		"a margin is at most":   {Shapes: star(t, 5, 50), Change: func(j *job.Job) { j.Bases[0].Source, j.Margin = "town", 20_000 }},
		"reversed":              {Shapes: star(t, 5, 50), Change: func(j *job.Job) { j.Bases[0] = job.Base{Source: "town", Zooms: tiles.Zooms{Min: 9, Max: 3}} }},
		"there is no such file": {Dir: t.TempDir()},
		"the job has no base 2": {Shapes: star(t, 5, 50), Base: 1},
	} {
		if _, err := d.Plan(t.Context(), draft); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", says, err)
		}
	}
	for says, draft := range map[string]Draft{
		"states no terms":  {Shapes: star(t, 5, 50), Change: func(j *job.Job) { j.Bases[0].Source = "bare" }},
		"allow 10 a job":   {Shapes: star(t, 5, 50), Change: func(j *job.Job) { j.Bases[0].Source = "town" }},
		"taken for a slip": {Shapes: star(t, 5, 400_000), Change: func(j *job.Job) { j.Bases[0] = job.Base{Source: "practice", Zooms: tiles.Zooms{Min: 14, Max: 22}} }},
	} {
		start := time.Now()
		got, err := d.Plan(t.Context(), draft)
		if err != nil || got.Refused == nil || !strings.Contains(*got.Refused, says) {
			t.Errorf("%s: %v, %v", says, got.Refused, err)
		}
		if took := time.Since(start); took > time.Minute { // a plan of all these tiles would take hours
			t.Errorf("%s took %v", says, took)
		}
	}
}

// TestDraftEnds: a plan that nobody waits for any more stops.
func TestDraftEnds(t *testing.T) {
	o, _ := quiet(t, "")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	d := &Drafts{Office: o}
	run := Draft{Dir: lotJob(t, "")}
	if st, err := o.makeStore(t.Context()); err != nil {
		t.Fatal(err)
	} else {
		_ = st.Close()
	}
	if _, err := d.Plan(ctx, run); err != nil && !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// TestDraftHours: what the terms allow later is told.
func TestDraftHours(t *testing.T) {
	o, _ := quiet(t, "hours = [\"20:00-06:00\"]\ntime_zone = \"UTC\"\ntiles_per_day = 20")
	o.Fetch.Now = func() time.Time { return time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC) }
	got, err := (&Drafts{Office: o}).Plan(t.Context(), Draft{Dir: lotJob(t, "")})
	if err != nil || got.Opens == nil || got.Opens.Hour() != 20 || got.Days < 2 || got.Ends == nil || got.Ends.Day() < 3 || !strings.Contains(got.Terms, "only 20:00-06:00 UTC") {
		t.Errorf("%+v, %v", got, err)
	}
}

// TestChoices: the plan as drawn leads while it fits and a reading can be placed;
// else the one that gives up the least does. Each sets what its words say.
func TestChoices(t *testing.T) {
	o, _ := quiet(t, "")
	d := &Drafts{Office: o}
	choices := func(more string, change func(*job.Job)) []plan.Choice {
		t.Helper()
		got, err := d.Plan(t.Context(), Draft{Dir: lotJob(t, more), Change: change})
		if err != nil {
			t.Fatal(err)
		}
		drawn := 0
		for _, c := range got.Choices {
			if c.GivesUp == "" {
				drawn++
				if c.Bytes != got.Bytes || c.Tiles != got.Tiles {
					t.Errorf("as drawn is not the plan: %+v", c)
				}
			} else if len(c.Set) == 0 || c.Write == "" {
				t.Errorf("%+v sets nothing", c)
			}
		}
		if drawn != 1 {
			t.Errorf("as drawn stands there %d times", drawn)
		}
		return got.Choices
	}
	zooms := func(deepest int) func(*job.Job) { return func(j *job.Job) { j.Bases[0].Zooms.Max = deepest } }
	if c := choices("", zooms(22)); c[0].GivesUp != "" || c[0].Places != plan.Everywhere || !has(c, "deep") {
		t.Errorf("as drawn, it fits: %+v", c)
	}
	if c := choices("", zooms(18)); c[0].GivesUp != "more" || c[0].Places != plan.Everywhere || c[0].Set[0].Key != "base[0].zooms" {
		t.Errorf("too shallow for the reading: %+v", c)
	}
	if c := choices("fit_in = \"2MB\"\nreading = \"2ft\"", zooms(22)); c[0].GivesUp != "spare" || !c[0].Fits {
		t.Errorf("deeper than the reading needs: %+v", c)
	}
	if c := choices("fit_in = \"100kB\"", zooms(22)); c[0].Places == plan.Nowhere || c[len(c)-1].Places != plan.Nowhere {
		t.Errorf("what keeps the reading stands before what only fits: %+v", c)
	}
	if c := choices("fit_in = \"3MB\"", zooms(22)); c[0].GivesUp != "deep" || c[0].Places != plan.NearLines {
		t.Errorf("sharp near the lines: %+v", c)
	}
	if c := choices("", func(j *job.Job) { j.Bases[0].Zooms.Max, j.Bases[0].DeepAlong = 22, 5 }); !has(c, "more") || has(c, "deep") || c[0].Places != plan.NearLines {
		t.Errorf("with deep_along: %+v", c)
	}
}

func has(all []plan.Choice, givesUp string) bool {
	for _, c := range all {
		if c.GivesUp == givesUp {
			return true
		}
	}
	return false
}

// BenchmarkDraft is one step of a drag.
func BenchmarkDraft(b *testing.B) {
	o, _ := quiet(b, "")
	dir := lotJob(b, "")
	w, err := o.Open(b.Context(), dir)
	if err != nil {
		b.Fatal(err)
	}
	for _, err := range w.Pack(b.Context(), PackOptions{}) {
		if err != nil {
			b.Fatal(err)
		}
	}
	_ = w.Close()
	for name, shape := range map[string]*area.Area{"job": nil, "5000corners": star(b, 5000, 300), "500corners": star(b, 500, 300), "wide": star(b, 40, 5000)} {
		b.Run(name, func(b *testing.B) {
			d := &Drafts{Office: o}
			for b.Loop() {
				got, err := d.Plan(b.Context(), Draft{Dir: dir, Version: "1", Shapes: shape, Quick: true})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(got.Tiles), "tiles")
				b.ReportMetric(float64(len(got.Outline)), "bytes")
			}
		})
	}
}

package office_test

import (
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/office"
	"groundsheet/tiles/practice"
)

// page is a front end: it calls the verbs and shows what they tell.
type page struct {
	office.Office
	dir    string
	events []office.EventKind // the stages, in their order
}

// newPage has a job with two bases, an overlay and sources of its own, and no store yet.
func newPage(t *testing.T) (*page, *practice.Running) {
	t.Helper()
	running, err := practice.Start(t.Context(), "", practice.Options{BusyEvery: -1, MaxAge: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = running.Close() })
	dir := t.TempDir()
	p := &page{dir: filepath.Join(dir, "site")}
	p.Office = office.Office{
		StoreAt: filepath.Join(dir, "store"), SourcesFile: filepath.Join(dir, "sources.toml"),
		Progress: func(e office.Event) {
			if len(p.events) == 0 || p.events[len(p.events)-1] != e.Kind {
				p.events = append(p.events, e.Kind)
			}
			if e.Done > e.Total || e.Plan == nil {
				t.Errorf("an event that no bar can show: %+v", e)
			}
		},
	}
	source := "[%s]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 22]\nattribution = \"Invented\"\n[%s.terms]\noffline = \"allowed\"\nreference = \"invented\"\nrequests_per_second = 2000\nconnections = 4\nkeep_at_least = \"1d\"\n"
	for name, text := range map[string]string{
		p.SourcesFile:                     fmt.Sprintf(source, "town", running.URL, "town") + fmt.Sprintf(source, "again", running.URL+"?again", "again"),
		filepath.Join(p.dir, "a.geojson"): `{"type":"Polygon","coordinates":[[[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.5]]]}`,
		filepath.Join(p.dir, "w.geojson"): `{"type":"Feature","properties":{"size":"2 in"},"geometry":{"type":"LineString","coordinates":[[-140.4999,40.5],[-140.4991,40.5008]]}}`,
		filepath.Join(p.dir, "job.toml"): "name = \"Line\"\nmargin = \"10m\"\narea = [\"a.geojson\"]\n[[base]]\nsource = \"town\"\nzooms = [15, 19]\n" +
			"[[base]]\nsource = \"again\"\nzooms = [15, 18]\n[[overlay]]\nfile = \"w.geojson\"\nutility = \"water\"\n",
	} {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return p, running
}

// open opens the job and takes its files away: nothing may read them again.
func (p *page) open(t *testing.T) *office.Workspace {
	t.Helper()
	w, err := p.Open(t.Context(), p.dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = w.Close() })
	for _, name := range []string{"a.geojson", "w.geojson", "job.toml"} {
		kept := filepath.Join(p.dir, name+".kept")
		if err := os.Rename(filepath.Join(p.dir, name), kept); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = os.Rename(kept, filepath.Join(p.dir, name)) })
	}
	return w
}

func collect(t *testing.T, packs iter.Seq2[office.Packed, error]) (all []office.Packed) {
	t.Helper()
	for p, err := range packs {
		if err != nil {
			t.Fatal(err)
		}
		if p.Check.Verdict != check.Fit {
			t.Errorf("%+v", p.Check.Findings)
		}
		all = append(all, p)
	}
	return all
}

// TestTheLine drives every verb as a front end of another kind would: plan, sample,
// pack, refresh, hold against the job, prune, close.
func TestTheLine(t *testing.T) {
	p, running := newPage(t)
	w := p.open(t)
	plans, err := w.Plans(t.Context())
	if err != nil || len(plans) != 2 || plans[0].Fetch != plans[0].Tiles || plans[1].Tiles == 0 {
		t.Fatal(err, len(plans))
	}
	if _, err := os.Stat(p.StoreAt); err == nil {
		t.Error("a plan made a store")
	}
	sampled := 0
	for s, err := range w.Sample(t.Context(), 5) {
		if err != nil || s.Tally.New == 0 {
			t.Fatal(err, s)
		}
		sampled += s.Tally.New
	}
	p.events = nil
	packs := collect(t, w.Pack(t.Context(), office.PackOptions{}))
	if len(packs) != 2 || packs[0].Fetched+packs[1].Fetched != plans[0].Tiles+plans[1].Tiles-int64(sampled) {
		t.Fatalf("%+v", packs)
	}
	one := []office.EventKind{office.Begun, office.Fetching, office.Writing, office.Checking}
	if !slices.Equal(p.events, slices.Concat(one, one)) {
		t.Errorf("told %v", p.events)
	}
	sent := running.Server.Counts().Sent
	for _, again := range collect(t, w.Refresh(t.Context(), office.PackOptions{})) {
		if again.Requests != 0 || again.Rewritten || running.Server.Counts().Sent != sent {
			t.Errorf("%+v", again)
		}
	}
	for _, made := range packs {
		now, err := w.Against(t.Context(), made.File)
		if err != nil {
			t.Fatal(err)
		}
		if r, err := check.Run(t.Context(), made.File, check.Options{Against: now}); err != nil || r.Verdict != check.Fit {
			t.Errorf("%v %+v", err, r.Findings)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	p.pruneClosed(t, plans[0].Tiles+plans[1].Tiles)
}

// pruneClosed closes the job; only then its tiles go.
func (p *page) pruneClosed(t *testing.T, all int64) {
	t.Helper()
	o := office.PruneOptions{Apply: true}
	o.Closed = true
	if kept, err := p.Prune(t.Context(), o); err != nil || kept.Tiles != 0 {
		t.Errorf("%v %+v", err, kept)
	}
	if err := p.CloseJobs(t.Context(), p.dir, p.dir+"-of-nobody"); err == nil {
		t.Error("a job that was never packed was closed")
	}
	if err := p.CloseJobs(t.Context(), p.dir); err != nil {
		t.Fatal(err)
	}
	planned := false
	o.Planned = func(d office.Pruned) error {
		planned = d.Tiles == all && !d.Applied
		return nil
	}
	if gone, err := p.Prune(t.Context(), o); err != nil || gone.Tiles != all || !gone.Applied || !planned {
		t.Errorf("%v %+v, planned %v", err, gone, planned)
	}
}

// TestInputsAreReadOnce: with the files gone, and the records in memory spoiled after
// they were serialized, each base is packed with what was read.
func TestInputsAreReadOnce(t *testing.T) {
	p, _ := newPage(t)
	w := p.open(t)
	want := w.Inputs.Packed.Overlays[0]
	clear(w.Inputs.Overlays[0].Features[0].Properties) // serialized again, it would have no size
	outline := &w.Inputs.Ground.Area[0]
	plans, err := w.Plans(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, plan := range plans {
		if &plan.Ground.Area[0] != outline {
			t.Error("the area was outlined once more")
		}
	}
	for _, made := range collect(t, w.Pack(t.Context(), office.PackOptions{})) {
		file, err := pack.Open(t.Context(), made.File)
		if err != nil {
			t.Fatal(err)
		}
		if text, err := file.OverlayGeoJSON(t.Context(), want.ID); err != nil || string(text) != want.Features {
			t.Errorf("%s %v", text, err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestDamagedPackIsWrittenAgain: a pack that was not rewritten and is damaged is
// written once more; one that is not fit because of its job is left alone.
func TestDamagedPackIsWrittenAgain(t *testing.T) {
	p, _ := newPage(t)
	w := p.open(t)
	pack := w.Pack(t.Context(), office.PackOptions{})
	path := collect(t, pack)[0].File
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := len(data) / 2
	copy(data[at:], make([]byte, 64))
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	p.events = nil
	if again := collect(t, pack); !again[0].Rewritten || !slices.Contains(p.events, office.Rewriting) || again[1].Rewritten {
		t.Errorf("%v", p.events)
	}
}

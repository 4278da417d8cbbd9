package office

import (
	"math"
	"testing"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// desk is what a user has: a job, a source, a store.
type desk struct {
	Job    job.Job
	Source source.Source
	Shelf  store.Shelf
}

func (d desk) draw(t *testing.T, at time.Time) plan.Plan {
	t.Helper()
	in, err := d.Job.ReadInputs()
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.New(t.Context(), plan.Options{Inputs: in, Source: d.Source, Shelf: d.Shelf, Now: func() time.Time { return at }})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// base is the one base of the job at a time, as a workspace has it.
func (d desk) base(t *testing.T, at time.Time) base {
	t.Helper()
	p := d.draw(t, at)
	return base{
		office: Office{Fetch: fetch.Options{Now: func() time.Time { return at }}}, plan: p, shelf: d.Shelf,
		derived: func() derive.Result { return derived(p.Inputs, at) },
	}
}

// bench is a job with a store and a practice source of its own.
func bench(t testing.TB) (desk, *practice.Running) {
	t.Helper()
	running, err := practice.Start(t.Context(), "", practice.Options{BusyEvery: -1, MaxAge: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = running.Close() })
	s, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	src := source.Source{
		Name: "town", Kind: source.KindXYZ, URL: running.URL, Zooms: tiles.Zooms{Min: 0, Max: 22}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 2000, Connections: 4, KeepAtLeast: measure.Age(24 * time.Hour)},
	}
	shelf, err := s.Shelf(src.StoreName())
	if err != nil {
		t.Fatal(err)
	}
	job := job.Job{
		Dir: t.TempDir(), Name: "Fill", Units: "us", Around: []job.Around{{Lat: 40.5, Lon: -140.5, Radius: 40}},
		Bases: []job.Base{{Source: "town", Zooms: tiles.Zooms{Min: 15, Max: 20}}},
	}
	return desk{Job: job, Source: src, Shelf: shelf}, running
}

func run(t *testing.T, d desk, at time.Time) Report {
	t.Helper()
	r, err := d.base(t, at).pack(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if r.Fetched+r.Unchanged+r.Reused+r.Absent != r.Wanted || r.Tiles+r.Absent != r.Wanted {
		t.Errorf("the counts do not add up: %+v", r)
	}
	verdict, err := check.Run(t.Context(), r.File, check.Options{})
	if err != nil || verdict.Verdict != check.Fit {
		t.Errorf("%v %+v", err, verdict)
	}
	return r
}

// TestStaleIsConfirmed: after the terms' keeping time the source is asked
// again, with validators, and sends no image twice.
func TestStaleIsConfirmed(t *testing.T) {
	o, running := bench(t)
	start := time.Now()
	first := run(t, o, start)
	if first.Fetched != first.Wanted || first.Wanted < 20 {
		t.Fatalf("%+v", first)
	}
	fresh := run(t, o, start.Add(23*time.Hour))
	if fresh.Requests != 0 || fresh.Reused != fresh.Wanted {
		t.Errorf("within a day, as the terms say: %+v", fresh)
	}
	sent := running.Server.Counts().Sent
	stale := run(t, o, start.Add(25*time.Hour))
	if stale.Unchanged != stale.Wanted || stale.Fetched != 0 || running.Server.Counts().Sent != sent {
		t.Errorf("after a day: %+v, %d images sent again", stale, running.Server.Counts().Sent-sent)
	}
	again := run(t, o, start.Add(26*time.Hour))
	if again.Requests != 0 {
		t.Errorf("just confirmed, and asked again: %+v", again)
	}
}

// TestOverlapIsNotFetched: a second job over part of the same ground asks only
// for what is new.
func TestOverlapIsNotFetched(t *testing.T) {
	o, _ := bench(t)
	start := time.Now()
	first := run(t, o, start)
	o.Job.Name, o.Job.Around = "Next door", []job.Around{{Lat: 40.5, Lon: -140.4996, Radius: 40}}
	second := run(t, o, start)
	if second.Reused == 0 || second.Fetched == 0 || second.Fetched >= first.Fetched {
		t.Errorf("first %+v, second %+v", first, second)
	}
}

func TestRefusedBeforeARequest(t *testing.T) {
	o, running := bench(t)
	o.Source.Terms = nil
	if _, err := o.base(t, time.Now()).pack(t.Context()); err == nil || running.Server.Counts().Requests != 0 {
		t.Errorf("%v, %d requests", err, running.Server.Counts().Requests)
	}
}

// TestSample fetches a few tiles spread over zooms and ground; a plan drawn
// then is measured, not guessed, and near what the pack comes to.
func TestSample(t *testing.T) {
	o, running := bench(t)
	o.Job.Around[0].Radius = 150
	draw := func() plan.Plan { return o.draw(t, time.Now()) }
	before := draw()
	if !before.Guessed {
		t.Error("nothing is measured, and the plan does not say that it guesses")
	}
	tally, err := o.base(t, time.Now()).sample(t.Context(), 30)
	if err != nil {
		t.Fatal(err)
	}
	if sent := running.Server.Counts().Sent; sent < 28 || sent > 30 || tally.New != int(sent) {
		t.Errorf("%d images for a sample of 30: %+v", sent, tally)
	}
	p := draw()
	for _, z := range p.Zooms {
		if z.Held == 0 {
			t.Errorf("zoom %d was not sampled", z.Zoom)
		}
	}
	r := run(t, o, time.Now())
	var images int64
	for _, c := range p.Covers {
		for rec, err := range o.Shelf.In(t.Context(), c, false) {
			if err != nil {
				t.Fatal(err)
			}
			images += int64(rec.Bytes)
		}
	}
	if p.Guessed || float64(p.Bytes) < 0.8*float64(images) || float64(p.Bytes) > 1.25*float64(images) {
		t.Errorf("estimated %d bytes from a sample, the images are %d (guessed %v)", p.Bytes, images, p.Guessed)
	}
	if now := draw(); math.Abs(float64(now.Bytes-r.Bytes)) > 0.04*float64(r.Bytes) || !now.Timed {
		t.Errorf("with everything held the plan says %d bytes, the pack has %d (timed %v)", now.Bytes, r.Bytes, now.Timed)
	}
	if r.Fetched != r.Wanted-int64(tally.New) {
		t.Errorf("the sample was fetched again: %+v", r)
	}
}

// TestJPEGQuality packs smaller images, and leaves the store as it is.
func TestJPEGQuality(t *testing.T) {
	o, _ := bench(t)
	full := run(t, o, time.Now())
	o.Job.Bases[0].Quality = 40
	promised := o.draw(t, time.Now())
	small := run(t, o, time.Now())
	if math.Abs(float64(promised.Bytes-small.Bytes)) > 0.1*float64(small.Bytes) {
		t.Errorf("the plan says %d bytes, the pack has %d", promised.Bytes, small.Bytes)
	}
	if small.Recoded != small.Tiles || small.Bytes >= full.Bytes*9/10 || small.Requests != 0 {
		t.Errorf("full %+v\nsmall %+v", full, small)
	}
}

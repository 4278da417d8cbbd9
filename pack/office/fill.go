// Package office brings the office store up to a plan and writes the pack from
// it: fetch what is missing, confirm what is stale, then one streaming pass
// into a new file.
package office

import (
	"context"
	"crypto/ed25519"
	"iter"
	"log/slog"
	"net/http"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/plan"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Options says what to fill. Plan and Shelf are needed; the rest may stay zero.
type Options struct {
	Plan     plan.Plan // drawn with Shelf
	Shelf    store.Shelf
	Client   *http.Client            // nil = the fetcher's own
	Now      func() time.Time        // nil = time.Now
	Fetching func(fetch.Tally)       // progress of fetching; may be nil
	Writing  func(done, total int64) // progress of writing; may be nil
	Waiting  func()                  // told once when another run has to be waited for; may be nil
	Log      *slog.Logger            // nil = silent
	Patient  bool                    // wait for the terms' hours and days instead of stopping
	Pausing  func(time.Time, string) // told before such a wait: until when, and why; may be nil
	Trying   func(time.Time, string) // told once when a source that fails is asked again: until when, and why; may be nil
	Keep     time.Duration           // how long since its last answer a source that fails is asked again; 0 = not
	StandIn  bool                    // any held tile may stand in when the source fails
	Compare  bool                    // find out which images changed: Report.Changes
	Sign     ed25519.PrivateKey      // signs the pack; nil = not signed
	AskAll   bool                    // ask for what is fresh too, but for what the source called immutable
}

// Report is what a run did. Fetched + Unchanged + Reused + Absent = Tiles of
// the p.
type Report struct {
	Job       string  `json:"job"`
	Source    string  `json:"source"`
	File      string  `json:"file"`
	Tiles     int64   `json:"tiles"`     // images in the pack
	Wanted    int64   `json:"wanted"`    // tiles of the plan
	Fetched   int64   `json:"fetched"`   // new images from the source
	Unchanged int64   `json:"unchanged"` // stale, confirmed by the source without sending them again
	Reused    int64   `json:"reused"`    // in the store and fresh: not asked for
	Absent    int64   `json:"absent"`    // the source has none: named holes
	StoodIn   int64   `json:"stood_in"`  // of Reused: no longer fresh, and the source could not confirm them; holes are not counted
	Withdrawn int64   `json:"withdrawn"` // of Unchanged: the source says it has none; they are kept all the same
	Brought   int64   `json:"brought"`   // of Reused: by another run meanwhile
	Requests  int64   `json:"requests"`
	Received  int64   `json:"received_bytes"` // of the new images
	Answers   int64   `json:"answer_bytes"`   // of all answers, without their headers
	Bytes     int64   `json:"bytes"`          // of the pack
	Shared    bool    `json:"shared_images"`
	Recoded   int64   `json:"recoded"`
	Seconds   float64 `json:"seconds"`
	Rewritten bool    `json:"rewritten"` // false: the pack stood there with the same content and was left as it is
	Changes   Changes `json:"changes"`
}

// Run fetches and packs one base of a job. A plan that is refused is returned
// as its [source.Refused] before any request. When fetching stops early the
// error says why; what was fetched stays in the store and no pack is written.
//
// A pack that stands there with the same content is not written again. The
// times that it states for its tiles are then those of its writing, although
// the source may have confirmed them since.
func Run(ctx context.Context, o Options) (Report, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	began, p := o.Now(), o.Plan
	if p.Refused != nil {
		return Report{}, p.Refused
	}
	if err := pack.CanWrite(p.Path); err != nil {
		return Report{}, err // known before anything is fetched
	}
	watched := &watch{Shelf: o.Shelf, compare: o.Compare, changes: Changes{ByZoom: []ZoomChanges{}, Some: []string{}}}
	tally, err := o.fetch(ctx, watched, o.wants(ctx, o.Plan.Covers...), o.count())
	if err != nil {
		return Report{}, err
	}
	r := Report{
		Job: p.Job.Name, Source: p.Source.Name, Wanted: p.Tiles,
		Fetched: int64(tally.Came()), Unchanged: int64(tally.Unchanged + tally.Withdrawn),
		Withdrawn: int64(tally.Withdrawn), Brought: int64(tally.Brought),
		Requests: int64(tally.Requests), Received: tally.Bytes, Answers: tally.Received, Changes: watched.told(tally),
	}
	if tally.StoodIn > 0 {
		if r.StoodIn, err = o.unconfirmed(ctx, began); err != nil {
			return r, err
		}
	}
	err = o.write(ctx, &r, false)
	r.Reused = r.Tiles - r.Fetched - r.Unchanged
	r.Seconds = o.Now().Sub(began).Seconds()
	return r, err
}

// Anew writes the pack of a report once more from the store, because the file
// that stands there is damaged. It asks no source.
func Anew(ctx context.Context, o Options, r Report) (Report, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	err := o.write(ctx, &r, true)
	return r, err
}

// write writes the pack, unless it stands there already, and reports it.
func (o Options) write(ctx context.Context, r *Report, anew bool) error {
	content, err := o.content(ctx)
	content.About.Unconfirmed = r.StoodIn
	if err != nil {
		return err
	}
	w, err := pack.Write(ctx, o.Plan.Path, content, pack.WriteOptions{Now: o.Now, Progress: o.Writing, Anew: anew, Sign: o.Sign})
	if err != nil {
		return err
	}
	r.File, r.Tiles, r.Absent, r.Bytes = w.File, w.Tiles, w.Holes, w.Bytes
	r.Shared, r.Recoded, r.Rewritten = w.Shared, w.Recoded, w.Anew
	return nil
}

// count is how many tiles are asked for at most.
func (o Options) count() int64 {
	if o.AskAll {
		return o.Plan.Tiles
	}
	return o.Plan.Fetch
}

// wants are the tiles of covers that the source is asked for.
func (o Options) wants(ctx context.Context, covers ...tiles.Cover) iter.Seq2[fetch.Want, error] {
	return fetch.Wants(store.Compare(ctx, o.Shelf, false, covers...), o.Plan.Source.Terms, o.Now(), o.AskAll)
}

// unconfirmed counts the images of the plan that were due when the run began and
// that it did not bring or confirm.
func (o Options) unconfirmed(ctx context.Context, began time.Time) (n int64, err error) {
	began = began.Truncate(time.Microsecond) // as a store keeps times
	src := o.Plan.Source
	for p, err := range store.Compare(ctx, o.Shelf, false, o.Plan.Covers...) {
		if err != nil {
			return 0, err
		}
		older := p.Held.Fetched.Before(began) || p.Held.Ahead(began)
		if older && p.State(src.Terms, began) == store.Stale && !p.Held.Hole && !src.Placeholder(p.Held.Hash) {
			n++
		}
	}
	return n, nil
}

func (o Options) content(ctx context.Context) (pack.Content, error) {
	p := o.Plan
	found := p.Suspects
	if o.count() > 0 { // fetching may have brought new ones
		var err error
		if found, err = plan.Suspects(ctx, o.Shelf); err != nil {
			return pack.Content{}, err
		}
	}
	known := derive.From(p.Overlays, p.Ground.Area, p.Job.ComputeOptions(o.Now()))
	return pack.Content{
		About: About(p), Terms: p.Source.Terms, Bounds: p.Packed.Bounds, Covers: p.Covers, Area: p.Packed.Area,
		Overlays: p.Packed.Overlays, Derived: &known, Quality: p.Base.Quality, Tiles: o.Shelf,
		Placeholder: p.Source.Placeholder, Suspects: found,
	}, nil
}

// Seals gives the hashes that a pack of the plan would hold of its area and
// overlays.
func Seals(p plan.Plan) map[string]string {
	seals := pack.OverlaySeals(p.Packed.Overlays)
	seals[pack.AreaPart] = pack.AreaSeal(p.Packed.Area)
	return seals
}

// About is what a pack of the plan says of the job; what comes with writing
// (counts, times, hashes) is left out.
func About(p plan.Plan) pack.About {
	j, src := p.Job, p.Source
	missing, nothingHere := pack.Gaps(j.Expected, p.Overlays, p.Ground.Area, j.Margin.Metres())
	a := pack.About{
		Name: j.Name, Number: j.Number, Units: j.Units, OneCall: j.OneCall,
		Invented: j.Invented || src.Kind == source.KindPractice,
		Source:   pack.AboutSource{Name: src.Name, Attribution: src.Attribution, Captured: src.Captured},
		Ticket:   j.Ticket, Tolerance: j.Tolerance, Rules: j.Rules, Expected: j.Expected, ExpectedMissing: missing, NothingHere: nothingHere,
		OnlyNear: pack.OnlyNear(j.Expected, missing, p.Overlays, p.Ground.Area),
		Records:  pack.Records{OlderThanS: time.Duration(j.OlderThan).Seconds(), DepthGapM: j.DepthGap.Metres(), DepthSlope: j.DepthSlope},
		MarginM:  j.Margin.Metres(), FitInBytes: int64(j.FitIn), JPEGQuality: p.Base.Quality,
		Zooms: [2]int{p.Base.Zooms.Min, p.Base.Zooms.Max}, TileSize: src.TileSize,
		GroundResolution: deepestResolution(p),
	}
	if src.Terms != nil {
		a.Source.Reference, a.Source.Permission = src.Terms.Reference, src.Terms.Permission
	}
	return a
}

func deepestResolution(p plan.Plan) float64 {
	if len(p.Zooms) == 0 {
		return 0
	}
	return p.Zooms[len(p.Zooms)-1].GroundResolution
}

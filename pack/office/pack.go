// Package office brings the office store up to a plan and writes the pack from
// it: fetch what is missing, confirm what is stale, then one streaming pass
// into a new file.
package office

import (
	"context"
	"crypto/ed25519"
	"errors"
	"iter"
	"slices"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/collect"
	"groundsheet/pack/plan"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// PackOptions are the ways of packing. The zero value is fine.
type PackOptions struct {
	AskAll bool               // ask for what is fresh too, but for what the source called immutable
	Sign   ed25519.PrivateKey // signs the pack; nil = not signed

	compare bool // find out which images changed: Report.Changes
}

// base is one base map of a job at work.
type base struct {
	office  Office
	plan    plan.Plan // made with shelf
	shelf   store.Shelf
	options PackOptions
	derived func() derive.Result // what is derived from the job's records
}

func (b base) tell(e Event) {
	if b.office.Progress != nil {
		e.Plan = &b.plan
		b.office.Progress(e)
	}
}

// moved tells how far a stage has come.
func (b base) moved(stage EventKind) func(done, total int64) {
	return func(done, total int64) { b.tell(Event{Kind: stage, Done: done, Total: total}) }
}

// Report is what a run did. Fetched + Unchanged + Reused + Absent = Tiles of
// the plan.
type Report struct {
	Job       string `json:"job"`
	Source    string `json:"source"`
	File      string `json:"file"`
	Tiles     int64  `json:"tiles"`     // images in the pack
	Wanted    int64  `json:"wanted"`    // tiles of the plan
	Fetched   int64  `json:"fetched"`   // new images from the source
	Unchanged int64  `json:"unchanged"` // stale, confirmed by the source without sending them again
	Reused    int64  `json:"reused"`    // in the store and fresh: not asked for
	Absent    int64  `json:"absent"`    // the source has none: named holes
	// of Reused: no longer fresh, and the source could not confirm them; holes are not counted
	StoodIn   int64   `json:"stood_in"`
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

// pack fetches and writes the pack.
func (b base) pack(ctx context.Context) (Report, error) {
	began, p := b.office.now(), b.plan
	if p.Refused != nil {
		return Report{}, p.Refused
	}
	b.tell(Event{Kind: Begun, Total: b.asks()})
	if err := pack.CanWrite(p.Path); err != nil {
		return Report{}, err // known before anything is fetched
	}
	recorder := &changeRecorder{Shelf: b.shelf, compare: b.options.compare,
		changes: Changes{ByZoom: []ZoomChanges{}, Some: []string{}}}
	tally, err := b.fetch(ctx, Fetching, recorder, b.wants(ctx, p.Covers...), b.asks())
	if err != nil {
		return Report{}, err
	}
	r := Report{
		Job: p.Job.Name, Source: p.Source.Name, Wanted: p.Tiles,
		Fetched: int64(tally.Came()), Unchanged: int64(tally.Unchanged + tally.Withdrawn),
		Withdrawn: int64(tally.Withdrawn), Brought: int64(tally.Brought),
		Requests: int64(tally.Requests), Received: tally.Bytes, Answers: tally.Received, Changes: recorder.total(tally),
	}
	if tally.StoodIn > 0 {
		if r.StoodIn, err = b.unconfirmed(ctx, began); err != nil {
			return r, err
		}
	}
	err = b.write(ctx, &r, false)
	r.Reused = r.Tiles - r.Fetched - r.Unchanged
	r.Seconds = b.office.now().Sub(began).Seconds()
	return r, err
}

// write writes the pack, unless the file there is the same, and reports it.
func (b base) write(ctx context.Context, r *Report, force bool) error {
	content, err := b.content(ctx)
	content.About.Unconfirmed = r.StoodIn
	if err != nil {
		return err
	}
	w, err := pack.Write(ctx, b.plan.Path, content, pack.WriteOptions{Now: b.office.Fetch.Now,
		Progress: b.moved(Writing), Force: force, Sign: b.options.Sign})
	if err != nil {
		return err
	}
	r.File, r.Tiles, r.Absent, r.Bytes = w.File, w.Tiles, w.Holes, w.Bytes
	r.Shared, r.Recoded, r.Rewritten = w.Shared, w.Recoded, w.Rewritten
	return nil
}

// check checks the pack file.
func (b base) check(ctx context.Context) (check.Report, error) {
	return check.Run(ctx, b.plan.Path, check.Options{Progress: b.moved(Checking)})
}

// damaged reports whether a pack is not fit for a reason of its file, so that
// writing it again helps.
func damaged(c check.Report, err error) bool {
	return errors.Is(err, pack.NotPack) || slices.ContainsFunc(c.Findings, check.Finding.OfFile)
}

// asks is how many tiles the source is asked for at most.
func (b base) asks() int64 {
	if b.options.AskAll {
		return b.plan.Tiles
	}
	return b.plan.Fetch
}

// wants are the tiles of covers that the source is asked for.
func (b base) wants(ctx context.Context, covers ...tiles.Cover) iter.Seq2[fetch.Want, error] {
	return fetch.Wants(store.Compare(ctx, b.shelf, false, covers...), b.plan.Source.Terms, b.office.now(),
		b.options.AskAll)
}

// unconfirmed counts the images of the plan that were due when the run began and
// that it did not bring or confirm.
func (b base) unconfirmed(ctx context.Context, began time.Time) (n int64, err error) {
	began = began.Truncate(time.Microsecond) // as a store keeps times
	src := b.plan.Source
	for p, err := range store.Compare(ctx, b.shelf, false, b.plan.Covers...) {
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

// content is what goes into the pack, as the store has it now.
func (b base) content(ctx context.Context) (pack.Content, error) {
	p := b.plan
	found := p.Suspects
	if b.asks() > 0 { // fetching may have brought new ones
		var err error
		if found, err = plan.Suspects(ctx, p.Source, b.shelf); err != nil {
			return pack.Content{}, err
		}
	}
	derived, said := b.derived(), about(p)
	said.Home = collect.Home(ctx, p.Job.Dir)
	return pack.Content{
		About: said, Terms: p.Source.Terms, Bounds: p.Packed.Bounds, Covers: p.Covers, Area: p.Packed.Area,
		Overlays: p.Packed.Overlays, Derived: &derived, Quality: p.Base.Quality, Tiles: b.shelf,
		Placeholder: p.Source.Placeholder, Suspects: found,
	}, nil
}

// seals are the hashes that a pack of the plan would hold of its area and overlays.
func seals(p plan.Plan) map[string]string {
	all := pack.OverlaySeals(p.Packed.Overlays)
	all[pack.AreaPart] = pack.AreaSeal(p.Packed.Area)
	return all
}

// about is what a pack of the plan says of the job; what comes with writing
// (counts, times, hashes) is left out.
func about(p plan.Plan) pack.About {
	j, src := p.Job, p.Source
	missing, nothingHere := pack.Gaps(j.Expected, p.Overlays, p.Ground.Area, j.Margin.Meters())
	a := pack.About{
		Name: j.Name, Number: j.Number, Units: j.Units, OneCall: j.OneCall,
		Invented: j.Invented || src.Kind == source.KindPractice,
		Source:   pack.AboutSource{Name: src.Name, Attribution: src.Attribution, Captured: src.Captured, Drawn: pack.DrawnOf(src)},
		Ticket:   j.Ticket, Tolerance: j.Tolerance, Rules: j.Rules, Instrument: j.Instrument, Expected: j.Expected, ExpectedMissing: missing,
		NothingHere: nothingHere,
		OnlyNear:    pack.OnlyNear(j.Expected, missing, p.Overlays, p.Ground.Area),
		Records: pack.Records{OlderThanS: time.Duration(j.OlderThan).Seconds(), DepthGapM: j.DepthGap.Meters(),
			DepthSlope: j.DepthSlope},
		MarginM: j.Margin.Meters(), FitInBytes: int64(j.FitIn), JPEGQuality: p.Base.Quality,
		Zooms: [2]int{p.Base.Zooms.Min, p.Base.Zooms.Max}, TileSize: src.TileSize,
		GroundResolution: deepestResolution(p),
	}
	if src.Terms != nil {
		a.Source.Reference, a.Source.Permission, a.Source.CopiesOnPhones = src.Terms.Reference,
			src.Terms.Permission, src.Terms.CopiesOnPhones
	}
	return a
}

func deepestResolution(p plan.Plan) float64 {
	if len(p.Zooms) == 0 {
		return 0
	}
	return p.Zooms[len(p.Zooms)-1].GroundResolution
}

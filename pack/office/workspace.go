package office

import (
	"context"
	"fmt"
	"iter"
	"sync"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Workspace is a job opened for work. Its files were read when it was opened and
// are not read again. Use it from one goroutine at a time.
type Workspace struct {
	Inputs  job.Inputs
	office  Office
	sources source.Config
	store   store.Store // nil = there is none yet
	derived func() derive.Result
}

// Open reads a job folder, its sources and the store when there is one. It changes
// nothing on disk.
func (o Office) Open(ctx context.Context, dir string) (*Workspace, error) {
	j, err := job.Read(dir)
	if err != nil {
		return nil, err
	}
	if tell := o.Progress; tell != nil { // one event after the other
		var mu sync.Mutex
		o.Progress = func(e Event) {
			mu.Lock()
			defer mu.Unlock()
			tell(e)
		}
	}
	w := &Workspace{office: o}
	if w.sources, err = o.Sources(dir); err != nil {
		return nil, err
	}
	for _, b := range j.Bases {
		if _, err := w.sources.Find(b.Source); err != nil {
			return nil, err
		}
	}
	if w.Inputs, err = j.ReadInputs(); err != nil {
		return nil, err
	}
	w.derived = sync.OnceValue(func() derive.Result { return derived(w.Inputs, o.now()) })
	w.store, err = o.FindStore(ctx)
	return w, err
}

func derived(in job.Inputs, now time.Time) derive.Result {
	return derive.From(in.Overlays, in.Ground.Area, in.Job.ComputeOptions(now))
}

// Close closes the store.
func (w *Workspace) Close() error {
	if w.store == nil {
		return nil
	}
	return w.store.Close()
}

// Shelf is the shelf of a base, nil when there is no store yet.
func (w *Workspace) Shelf(i int) (store.Shelf, error) {
	src, err := w.sources.Find(w.Inputs.Job.Bases[i].Source)
	if err != nil || w.store == nil {
		return nil, err
	}
	return w.store.Shelf(src.StoreName())
}

// plan plans one base.
func (w *Workspace) plan(ctx context.Context, i int) (plan.Plan, error) {
	src, err := w.sources.Find(w.Inputs.Job.Bases[i].Source)
	if err != nil {
		return plan.Plan{}, err
	}
	shelf, err := w.Shelf(i)
	if err != nil {
		return plan.Plan{}, err
	}
	return plan.New(ctx, plan.Options{Inputs: w.Inputs, Base: i, Source: src, Shelf: shelf, Now: w.office.Fetch.Now})
}

// Plans plans every base. It asks no source and writes nothing. A plan that may not
// be fetched has Refused set.
func (w *Workspace) Plans(ctx context.Context) ([]plan.Plan, error) {
	var all []plan.Plan
	for i := range w.Inputs.Job.Bases {
		p, err := w.plan(ctx, i)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// ready plans every base and makes the store; a refusal comes before that.
func (w *Workspace) ready(ctx context.Context) ([]plan.Plan, error) {
	plans, err := w.Plans(ctx)
	if err != nil {
		return nil, err
	}
	for i, p := range plans {
		if p.Refused != nil {
			return nil, p.Refused
		}
		if _, err := p.Source.WithKey(p.Source.URL); err != nil { // a key that is not set
			return nil, fmt.Errorf("base %d of the job: %w", i+1, err)
		}
	}
	if w.store == nil {
		w.store, err = w.office.makeStore(ctx)
	}
	return plans, err
}

func (w *Workspace) base(i int, p plan.Plan, o PackOptions) (base, error) {
	shelf, err := w.Shelf(i)
	return base{office: w.office, plan: p, shelf: shelf, options: o, derived: w.derived}, err
}

// Sampled is what a sample of one base brought.
type Sampled struct {
	Source string
	Tally  fetch.Tally
}

// Sample fetches about n tiles of each base, spread evenly over its zooms and its
// ground, and keeps them in the store: plans made then rest on what was measured. It
// writes no pack. An error ends the sequence.
func (w *Workspace) Sample(ctx context.Context, n int) iter.Seq2[Sampled, error] {
	return func(yield func(Sampled, error) bool) {
		plans, err := w.ready(ctx)
		if err != nil {
			yield(Sampled{}, err)
			return
		}
		for i, p := range plans {
			b, err := w.base(i, p, PackOptions{})
			s := Sampled{Source: p.Source.Name}
			if err == nil {
				s.Tally, err = b.sample(ctx, n)
			}
			if !yield(s, err) || err != nil {
				return
			}
		}
	}
}

// Packed is a pack and the verdict on it.
type Packed struct {
	Report
	Check check.Report
}

// Pack fetches what is missing or stale, writes the pack of each base, puts it into
// the register of the store and checks it. An error ends the sequence; a pack that
// is not fit is none. A refusal comes before any request and before a store is made.
// When fetching stops early, what was fetched stays in the store and no pack is
// written. Bases that the job no longer has are closed at the end.
//
// A pack with the same content is not written again unless it turns out to be
// damaged. Its times for tiles are then those of its writing, although the source
// may have confirmed them since.
func (w *Workspace) Pack(ctx context.Context, o PackOptions) iter.Seq2[Packed, error] {
	return func(yield func(Packed, error) bool) {
		plans, err := w.ready(ctx)
		if err != nil {
			yield(Packed{}, err)
			return
		}
		for i, p := range plans {
			r, err := w.packBase(ctx, i, p, o)
			if !yield(r, err) || err != nil {
				return
			}
		}
		if err := w.closeGoneBases(ctx); err != nil {
			yield(Packed{}, err)
		}
	}
}

// Refresh is [Workspace.Pack] that also finds out which images changed.
func (w *Workspace) Refresh(ctx context.Context, o PackOptions) iter.Seq2[Packed, error] {
	o.compare = true
	return w.Pack(ctx, o)
}

func (w *Workspace) packBase(ctx context.Context, i int, p plan.Plan, o PackOptions) (out Packed, err error) {
	if i > 0 { // what the bases before it fetched may be held for this one too
		if p, err = w.plan(ctx, i); err != nil {
			return out, err
		}
	}
	b, err := w.base(i, p, o)
	if err != nil {
		return out, err
	}
	if out.Report, err = b.pack(ctx); err != nil {
		return out, err
	}
	if err := w.register(ctx, i, b); err != nil {
		return out, err
	}
	out.Check, err = b.check(ctx)
	if out.Rewritten || !damaged(out.Check, err) {
		return out, err
	}
	b.tell(Event{Kind: Rewriting})
	if err := b.write(ctx, &out.Report, true); err != nil {
		return out, err
	}
	out.Check, err = b.check(ctx)
	return out, err
}

package fetch

import (
	"cmp"
	"context"
	"errors"
	"iter"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// run is the state that the workers of one Run share.
type run struct {
	counter
	src      source.Source
	o        Options
	shelf    Shelf
	pace     *pace.Limiter
	requests requester
	recorder recorder
	queue    queue
	outage   outage

	began   time.Time // by Options.Now
	started time.Time // by the clock of this machine, as the times of requests are
	waited  bool      // Options.Waiting was called
	recheck bool      // another run had a lease since this one began: check the store before each request

	heldMu   sync.Mutex
	heldOnly *Stop // set when no more requests are sent: held tiles stand in, or the run ends with it
}

// leases works until nothing is wanted, in turns with other runs.
func (r *run) leases(ctx context.Context, wants iter.Seq2[Want, error]) error {
	next, stop := iter.Pull2(jobs(r.src, wants))
	defer stop()
	r.queue.next = func() ([]task, error, bool) {
		together, err, more := next()
		for _, j := range together {
			r.count(func(t *Tally) { t.Wanted += len(j.wants) })
		}
		return together, err, more
	}
	var spent time.Duration
	for {
		ready, aside := r.queue.left()
		if !ready && !aside {
			return r.shelf.Timed(ctx, r.snapshot().Requests, spent)
		}
		if !ready {
			if err := r.waitFor(ctx, r.outage.someFailed()); err != nil {
				return err
			}
			continue
		}
		took, later, err := r.oneLease(ctx)
		spent += took
		if err == nil && later != nil {
			err = r.waitFor(ctx, later)
		}
		if err != nil {
			return err
		}
		r.recheck = true
	}
}

// oneLease asks for tiles until nothing is wanted, another run waits, or it is
// not the time: later says when it is. Everything that came is written before
// the lease ends.
func (r *run) oneLease(ctx context.Context) (took time.Duration, later *Stop, err error) {
	held, err := r.shelf.Lease(ctx, r.waiting)
	if err != nil {
		return 0, nil, err
	}
	began := time.Now()
	state, handedOver := held.RateState()
	r.pace.Load(pace.Handover(state), handedOver)
	if r.outage.active() {
		r.pace.Probe(true) // one worker looks whether the source answers
	}
	// Another run may have had a lease between our beginning and now.
	r.recheck = r.recheck || !handedOver || slices.ContainsFunc(state.Left, r.started.Before)
	l := newLease(ctx, held, &quota{terms: r.src.Terms, now: r.o.Now, lease: held, uncounted: r.o.Unpaced &&
		r.src.Terms.TilesPerDay == 0})
	r.requests.lease = l
	defer func() {
		l.close(nil)
		r.requests.client.CloseIdleConnections() // they count as open ones at the source
		late := context.WithoutCancel(ctx)       // a cancelled run hands over too
		over := errors.Join(l.quota.giveBack(late), held.Release(late, store.RateState(r.pace.State())))
		if err == nil {
			err = over // else only what followed from the first error
		}
	}()
	if d := r.pace.Paused(); d > pace.LongestPause {
		s := longWait(r.o.Now().Add(d), "it asked a run before to wait, "+measure.Duration(d)+" more", r.src.Name)
		if !r.o.StandIn || r.o.Patient {
			return 0, s, nil
		}
		r.useHeldOnly(s)
	}
	err = r.underLease(ctx, l)
	return time.Since(began), stopOf(context.Cause(l.waits)), err
}

// waiting tells the caller once that another run has the lease.
func (r *run) waiting() {
	r.recheck = true
	if !r.waited {
		r.waited = true
		r.o.Waiting()
	}
}

// waitFor waits until a lease makes sense again, without holding one; it is the
// Stop itself if the options do not let the run wait for it.
func (r *run) waitFor(ctx context.Context, s *Stop) error {
	if s.Until.IsZero() {
		return r.waitOutOutage(ctx, s)
	}
	if !r.o.Patient {
		return s
	}
	r.o.Log.Info("waiting", "until", s.Until, "reason", s.Detail)
	r.o.Pausing(s.Until, s.Detail)
	for {
		d := s.Until.Sub(r.o.Now())
		if d <= 0 {
			return ctx.Err()
		}
		// In short steps: a computer that slept has lost time.
		if err := pace.Sleep(ctx, min(d, time.Minute)); err != nil {
			return err
		}
	}
}

// underLease runs workers, one writer that keeps what they bring, and the watch
// for other runs. It returns when everything that came is written.
func (r *run) underLease(ctx context.Context, l *lease) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	w := newWriter(r)
	watching, enough := context.WithCancel(ctx)
	var helpers sync.WaitGroup
	helpers.Go(func() { w.drain(context.WithoutCancel(ctx), stop) })
	helpers.Go(func() { l.watch(watching, r.o.PassEvery, stop) })
	err := r.work(ctx, w.in)
	enough()
	close(w.in)
	helpers.Wait()
	return cmp.Or(context.Cause(ctx), err)
}

// work runs as many workers as the terms allow connections; after a long wait,
// a single one until the source has answered it.
func (r *run) work(ctx context.Context, out chan<- outcome) error {
	if err := r.worker(ctx, out, r.pace.Probing); err != nil {
		return err
	}
	g, ctx := errgroup.WithContext(ctx)
	for range r.src.Terms.Connections {
		g.Go(func() error { return r.worker(ctx, out, func() bool { return true }) })
	}
	return g.Wait()
}

// worker takes one job after the other while the lease lasts and more says so.
func (r *run) worker(ctx context.Context, out chan<- outcome, more func() bool) error {
	var mine []task
	defer func() { r.queue.putBack(mine...) }()
	for ctx.Err() == nil && !r.requests.lease.over.Load() && more() {
		if len(mine) == 0 {
			var left bool
			var err error
			if mine, left, err = r.queue.draw(); err != nil || !left {
				return err
			}
		}
		j := mine[0]
		mine = mine[1:]
		got, err := r.do(ctx, j)
		for _, o := range got {
			out <- o // the writer always takes
		}
		s := stopOf(err)
		switch {
		case s != nil && s.scope == scopeLease:
			r.queue.putBack(j)
			r.requests.lease.end(s)
			return nil
		case s != nil && s.scope == scopeQueue:
			r.queue.putBack(j)
		case err != nil:
			return err
		}
	}
	return ctx.Err()
}

// do brings one job to its end.
func (r *run) do(ctx context.Context, j task) ([]outcome, error) {
	if r.recheck {
		var err error
		if j.wants, err = r.missing(ctx, j.wants); err != nil || len(j.wants) == 0 {
			return nil, err
		}
	}
	if j.outside {
		return []outcome{r.recorder.outside(j.wants[0])}, nil
	}
	if s := r.onlyHeld(); s != nil {
		return nil, r.standInAll(j, s)
	}
	return r.settle(ctx, j)
}

// missing leaves out what another run brought since the want was drawn, fresh
// or not: its response is as new as ours would be. It takes over what else that
// run learned.
func (r *run) missing(ctx context.Context, wants []Want) ([]Want, error) {
	var spans []tiles.Span
	for _, w := range wants {
		spans = append(spans, tiles.Span{Row: w.Y, First: w.X, Last: w.X})
	}
	now := map[tiles.ID]store.Pair{}
	for p, err := range store.Compare(ctx, r.shelf, false, tiles.NewCover(int(wants[0].Z), spans)) {
		if err != nil {
			return nil, err
		}
		now[p.ID] = p
	}
	var left []Want
	for _, w := range wants {
		p := now[w.ID]
		changed := p.Has && (!w.held() || !p.Held.Fetched.Equal(w.Held.Fetched) ||
			!p.Held.FreshUntil.Equal(w.Held.FreshUntil))
		if changed && (p.State(r.src.Terms, r.o.Now()) == store.Fresh || !p.Held.Fetched.Before(r.began)) {
			continue
		}
		left = append(left, Want{ID: w.ID, Held: p.Held}) // the zero Held when it was pruned meanwhile
	}
	r.count(func(t *Tally) { t.Brought += len(wants) - len(left) })
	return left, nil
}

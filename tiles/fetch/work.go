package fetch

import (
	"context"
	"errors"
	"sync"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// over says that asking ended while a job waited for its place: it is taken up
// again, in the next turn or without asking.
type over struct{}

func (over) Error() string { return "asking is over" }

// ending is how a turn comes to its end while workers are busy.
type ending struct {
	mu    sync.Mutex
	waits context.Context // ends when nothing more is asked: who waits for a place need not wait longer
	stop  context.CancelFunc
	soon  bool
	halt  *halt // the first reason that can be waited for; nil = another run waits
}

// begin opens a turn.
func (e *ending) begin(ctx context.Context) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.soon, e.halt = false, nil
	e.waits, e.stop = context.WithCancel(ctx)
}

// with ends the turn; h may be nil.
func (e *ending) with(h *halt) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.soon = true
	e.stop() // requests on their way go on
	if e.halt == nil {
		e.halt = h
	}
}

func (e *ending) is() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.soon
}

func (e *ending) taken() *halt {
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.halt
	e.halt = nil
	return h
}

// wake sends everybody away who waits for a place.
func (e *ending) wake() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.stop()
}

// wait calls something that waits, and ends it when nothing more is asked.
func (e *ending) wait(ctx context.Context, do func(context.Context) error) error {
	e.mu.Lock()
	waits := e.waits
	e.mu.Unlock()
	both, cancel := context.WithCancel(ctx)
	defer cancel()
	defer context.AfterFunc(waits, cancel)()
	err := do(both)
	if err != nil && ctx.Err() == nil && waits.Err() != nil {
		return over{}
	}
	return err
}

// all works for one turn: workers, one writer that keeps what they bring, and
// the look for other runs. It returns when everything that came is written.
func (r *run) all(ctx context.Context, turn store.Lease) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	w := newWriter(r)
	written := make(chan error, 1)
	go func() { written <- w.drain(context.WithoutCancel(ctx), stop) }()
	looking, enough := context.WithCancel(ctx)
	looked := make(chan error, 1)
	go func() {
		err := r.watch(looking, turn)
		if err != nil {
			stop(err)
		}
		looked <- err
	}()
	err := r.work(ctx, w.in)
	enough()
	close(w.in)
	writeErr, lookErr := <-written, <-looked
	switch {
	case writeErr != nil:
		return writeErr
	case lookErr != nil:
		return lookErr
	}
	return err
}

// work runs as many workers as the terms allow connections; after a long wait
// one alone until the source has answered it.
func (r *run) work(ctx context.Context, out chan<- outcome) error {
	if err := r.worker(ctx, out, r.pace.doubts); err != nil {
		return err
	}
	g, ctx := errgroup.WithContext(ctx)
	for range r.src.Terms.Connections {
		g.Go(func() error { return r.worker(ctx, out, func() bool { return true }) })
	}
	return g.Wait()
}

// worker takes one job after the other until the turn ends or it is enough.
func (r *run) worker(ctx context.Context, out chan<- outcome, more func() bool) error {
	for ctx.Err() == nil && !r.ends.is() && more() {
		j, left, err := r.draw()
		if err != nil || !left {
			return err
		}
		got, err := r.do(ctx, j)
		for _, o := range got {
			out <- o // the writer always takes
		}
		var h *halt
		switch {
		case errors.As(err, &h):
			r.putBack(j)
			r.ends.with(h)
			return nil
		case errors.Is(err, over{}):
			r.putBack(j)
		case err != nil:
			return err
		}
	}
	return ctx.Err()
}

// draw gives the next job: first those that a turn left undone.
func (r *run) draw() (j job, left bool, err error) {
	r.drawing.Lock()
	defer r.drawing.Unlock()
	if n := len(r.back); n > 0 {
		j = r.back[n-1]
		r.back = r.back[:n-1]
		return j, true, nil
	}
	if r.dry {
		return job{}, false, nil
	}
	j, err, left = r.next()
	if err != nil || !left {
		r.dry = true
		return job{}, false, err
	}
	r.count(func(t *Tally) { t.Wanted += len(j.wants) })
	return j, true, nil
}

func (r *run) putBack(j job) {
	r.drawing.Lock()
	r.back = append(r.back, j)
	r.drawing.Unlock()
}

// drawn reports whether everything wanted was done.
func (r *run) drawn() bool {
	r.drawing.Lock()
	defer r.drawing.Unlock()
	r.trying.mu.Lock()
	defer r.trying.mu.Unlock()
	return r.dry && len(r.back) == 0 && len(r.trying.aside) == 0
}

// do brings one job to its end.
func (r *run) do(ctx context.Context, j job) ([]outcome, error) {
	if r.looksUp {
		var err error
		if j.wants, err = r.missing(ctx, j.wants); err != nil || len(j.wants) == 0 {
			return nil, err
		}
	}
	switch down := r.isDown(); {
	case j.outside:
		return []outcome{r.outsideOf(j.wants[0])}, nil
	case down != nil:
		return nil, r.standInAll(j, down)
	}
	return r.settle(ctx, j)
}

// missing leaves out what another run brought since the want was drawn, fresh
// or not: its answer is as new as ours would be. It takes over what else that
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
		changed := p.Has && (!w.held() || !p.Held.Fetched.Equal(w.Held.Fetched) || !p.Held.FreshUntil.Equal(w.Held.FreshUntil))
		if changed && (p.State(r.src.Terms, r.o.Now()) == store.Fresh || !p.Held.Fetched.Before(r.began)) {
			continue
		}
		left = append(left, Want{ID: w.ID, Held: p.Held}) // the zero Held when it was pruned meanwhile
	}
	r.count(func(t *Tally) { t.Brought += len(wants) - len(left) })
	return left, nil
}

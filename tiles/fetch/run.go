package fetch

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math/rand/v2"
	"net/http"
	"net/url"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

const (
	failuresInRow = 10               // then the source is taken to be down
	reasonsKept   = 5                // of failed tiles, for the message
	longestBack   = 30 * time.Second // between two tries for one tile
)

// run is the state that the workers of one Run share.
type run struct {
	src    source.Source
	o      Options
	client *http.Client
	shelf  store.Shelf
	agent  string
	pace   *pace

	mu      sync.Mutex // guards what follows
	tally   Tally
	inRow   int // tiles that failed since the last good answer
	reasons []string
}

// all feeds the workers, and lets one writer keep what they bring. It returns
// when everything that came is written.
func (r *run) all(ctx context.Context, wants iter.Seq[Want]) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	w := newWriter(r)
	written := make(chan error, 1)
	go func() {
		err := w.drain(context.WithoutCancel(ctx), stop)
		written <- err
	}()
	err := r.work(ctx, wants, w.in)
	close(w.in)
	if writeErr := <-written; writeErr != nil {
		return writeErr
	}
	return err
}

// work runs as many workers as the terms allow connections.
func (r *run) work(ctx context.Context, wants iter.Seq[Want], out chan<- outcome) error {
	g, ctx := errgroup.WithContext(ctx)
	jobs := make(chan Want)
	g.Go(func() error {
		defer close(jobs)
		for w := range wants {
			select {
			case jobs <- w:
				r.count(func(t *Tally) { t.Wanted++ })
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	for range r.src.Terms.Connections {
		g.Go(func() error {
			for w := range jobs {
				got, err := r.tile(ctx, w)
				if err != nil {
					return err
				}
				if got != nil {
					out <- *got // the writer always takes
				}
			}
			return nil
		})
	}
	return g.Wait()
}

// tile asks for one tile until there is an answer or the attempts are used
// up. A nil outcome is a failed tile; an error ends the run.
func (r *run) tile(ctx context.Context, w Want) (*outcome, error) {
	address, err := r.src.Address(w.ID)
	if err != nil {
		return nil, err
	}
	for attempt := 1; ; attempt++ {
		got, bad, err := r.ask(ctx, address, w)
		switch {
		case err != nil:
			return nil, err
		case bad == nil:
			r.succeeded()
			return &got, nil
		case bad.final || attempt >= r.o.Attempts:
			return nil, r.failed(w, address, attempt, bad)
		}
		if bad.unasked {
			w.ETag, w.LastModified = "", ""
		}
		r.count(func(t *Tally) { t.Retries++ })
		r.o.Log.Debug("tile is asked for again", "tile", w.ID.String(), "attempt", attempt, "reason", r.src.Redact(bad.why))
		if err := r.backOff(ctx, attempt, bad); err != nil {
			return nil, err
		}
	}
}

// backOff waits before a retry, unless the source said how long to wait: then
// the pace holds every worker back.
func (r *run) backOff(ctx context.Context, attempt int, bad *trouble) error {
	if bad.told {
		return nil
	}
	wait := min(r.o.Backoff<<min(attempt-1, 16), longestBack)
	wait = wait/2 + rand.N(wait) // so that workers do not come back together
	r.count(func(t *Tally) { t.Waited += wait })
	return sleep(ctx, wait)
}

func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (r *run) succeeded() {
	r.mu.Lock()
	r.inRow = 0
	r.mu.Unlock()
}

// failed counts a tile that is given up; an error ends the run.
func (r *run) failed(w Want, address string, attempts int, bad *trouble) error {
	reason := fmt.Sprintf("%s (%s): %s", w.ID, r.src.Redact(address), r.src.Redact(bad.why))
	if attempts > 1 {
		reason += fmt.Sprintf(" (%d times)", attempts)
	}
	r.o.Log.Warn("tile failed", "reason", reason)
	r.mu.Lock()
	r.tally.Failed++
	r.inRow++
	inRow := r.inRow
	if len(r.reasons) < reasonsKept {
		r.reasons = append(r.reasons, reason)
	}
	r.mu.Unlock()
	switch {
	case bad.unreachable:
		return r.stopped(StopUnreachable, "the host cannot be reached", bad.err,
			"check the network and the address in sources.toml, then run again: what came is kept")
	case inRow >= failuresInRow:
		return r.stopped(StopRow, fmt.Sprintf("%d tiles in a row failed, the last one %s", inRow, reason), nil,
			"look at the reason, then run again: what came is kept")
	}
	return nil
}

func (r *run) count(add func(*Tally)) {
	r.mu.Lock()
	add(&r.tally)
	r.mu.Unlock()
}

func (r *run) snapshot() Tally {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.tally
}

// where names source and host.
func (r *run) where() string {
	u, err := url.Parse(r.src.URL)
	if err != nil || u.Host == "" {
		return fmt.Sprintf("source %q", r.src.Name)
	}
	return fmt.Sprintf("source %q (%s)", r.src.Name, u.Host)
}

func (r *run) outside(err error, remedy string) error {
	return &Outside{"fetching tiles", r.where(), err, remedy}
}

// stopped is the error that ends a run early. The cause is kept only when its
// text does not hold the key.
func (r *run) stopped(why Stop, detail string, cause error, remedy string) error {
	if cause != nil && r.src.Redact(cause.Error()) != cause.Error() {
		cause = errors.New(r.src.Redact(cause.Error()))
	}
	return r.outside(&Stopped{why, r.src.Redact(detail), cause}, remedy)
}

package fetch

import (
	"context"
	"time"

	"groundsheet/tiles/store"
)

const (
	batchBytes = 16 << 20               // images held back at most, whatever BatchSize says
	tick       = 125 * time.Millisecond // of progress
)

// writer keeps outcomes in batches. Only its own goroutine touches it.
type writer struct {
	r         *run
	in        chan outcome
	keep      []store.Record // new tiles and holes
	renew     []store.Record
	withdrawn int // of renew
	bytes     int64
	since     time.Time // when the oldest of the batch came
	shown     time.Time // when progress was last told
}

func newWriter(r *run) *writer {
	return &writer{r: r, in: make(chan outcome, r.src.Terms.Connections)}
}

// drain writes until the channel is closed. When a write fails it stops the
// run and goes on taking, so that no worker hangs.
func (w *writer) drain(ctx context.Context, stop context.CancelCauseFunc) (failed error) {
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	for {
		select {
		case o, more := <-w.in:
			if !more {
				if failed == nil {
					failed = w.flush(ctx)
				}
				return failed
			}
			w.take(o)
		case <-ticker.C:
			w.show()
		}
		if failed == nil && w.due() {
			if failed = w.flush(ctx); failed != nil {
				stop(failed)
			}
		}
		if failed != nil {
			w.clear()
		}
	}
}

// show tells progress, never more than 10 times a second: after a long write
// a late tick is soon followed by the next.
func (w *writer) show() {
	if time.Since(w.shown) >= 100*time.Millisecond {
		w.r.o.Progress(w.r.snapshot())
		w.shown = time.Now()
	}
}

func (w *writer) take(o outcome) {
	if len(w.keep)+len(w.renew) == 0 {
		w.since = time.Now()
	}
	if o.confirmed || o.withdrawn {
		w.renew = append(w.renew, o.Record)
		if o.withdrawn {
			w.withdrawn++
		}
		return
	}
	w.keep = append(w.keep, o.Record)
	w.bytes += int64(len(o.Data))
}

func (w *writer) due() bool {
	n := len(w.keep) + len(w.renew)
	return n >= w.r.o.BatchSize || w.bytes >= batchBytes || n > 0 && time.Since(w.since) >= w.r.o.BatchEvery
}

// flush writes the batch; only then does it count.
func (w *writer) flush(ctx context.Context) error {
	if len(w.keep) > 0 {
		kept, err := w.r.shelf.Keep(ctx, w.keep)
		if err != nil {
			return err
		}
		w.r.count(func(t *Tally) { t.add(kept, w.bytes) })
		clear(w.keep) // let go of the images
		w.keep, w.bytes = w.keep[:0], 0
	}
	if len(w.renew) > 0 {
		if err := w.r.shelf.Renew(ctx, w.renew); err != nil {
			return err
		}
		w.r.count(func(t *Tally) {
			t.Unchanged += len(w.renew) - w.withdrawn
			t.Withdrawn += w.withdrawn
		})
	}
	w.clear()
	return nil
}

func (w *writer) clear() {
	clear(w.keep)
	w.keep, w.renew, w.withdrawn, w.bytes = w.keep[:0], w.renew[:0], 0, 0
}

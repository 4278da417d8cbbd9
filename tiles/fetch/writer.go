package fetch

import (
	"context"
	"time"

	"groundsheet/tiles/store"
)

const (
	batchBytes = 4 << 20                // images in a batch, or a little more, whatever BatchSize says
	tick       = 125 * time.Millisecond // of progress
)

// writer writes outcomes in batches: it collects one while the previous one is
// written, so that requests do not wait for the disk. Only the goroutine of drain
// uses it.
type writer struct {
	r     *run
	in    chan outcome
	next  *batch // being collected
	spare *batch // the other one; nil while it is written
	wrote chan *batch
	shown time.Time // when progress was last reported
}

// batch is what one write to the store takes.
type batch struct {
	keep      []store.Held // new tiles and holes
	renew     []store.Held
	withdrawn int // of renew
	bytes     int64
	since     time.Time // when the oldest came
	err       error     // of the write
}

func newWriter(r *run) *writer {
	return &writer{r: r, in: make(chan outcome, r.src.Terms.Connections), next: &batch{}, spare: &batch{},
		wrote: make(chan *batch, 1)}
}

// drain writes until the channel is closed. When a write fails it stops the run
// and keeps receiving, so that no worker blocks.
func (w *writer) drain(ctx context.Context, stop context.CancelCauseFunc) {
	var failed error
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	more := true
	for more || w.spare == nil || failed == nil && w.next.len() > 0 {
		if failed == nil && w.spare != nil && (w.due() || !more) {
			w.write(ctx)
		}
		var in <-chan outcome // nil, nothing is taken, while both batches are full
		if more && (failed != nil || w.spare != nil || !w.full()) {
			in = w.in
		}
		select {
		case o, open := <-in:
			if more = open; open && failed == nil {
				w.next.take(o)
			}
		case b := <-w.wrote:
			b.clear()
			w.spare = b
			if b.err != nil {
				failed = b.err
				stop(failed)
			}
		case <-ticker.C:
			w.show()
		}
	}
}

// show reports progress, never more than 10 times a second: after a long write
// a late tick is soon followed by the next.
func (w *writer) show() {
	if time.Since(w.shown) >= 100*time.Millisecond {
		w.r.o.Progress(w.r.snapshot())
		w.shown = time.Now()
	}
}

func (b *batch) take(o outcome) {
	if b.len() == 0 {
		b.since = time.Now()
	}
	if o.confirmed || o.withdrawn {
		b.renew = append(b.renew, o.Held)
		if o.withdrawn {
			b.withdrawn++
		}
		return
	}
	b.keep = append(b.keep, o.Held)
	b.bytes += int64(len(o.Data))
}

func (b *batch) len() int { return len(b.keep) + len(b.renew) }

func (w *writer) full() bool {
	return w.next.len() >= w.r.o.BatchSize || w.next.bytes >= batchBytes
}

func (w *writer) due() bool {
	return w.full() || w.next.len() > 0 && time.Since(w.next.since) >= w.r.o.BatchEvery
}

// write has the batch written and goes on with the other one.
func (w *writer) write(ctx context.Context) {
	b := w.next
	w.next, w.spare = w.spare, nil
	go func() {
		b.err = w.flush(ctx, b)
		w.wrote <- b
	}()
}

// flush writes a batch; only then does it count.
func (w *writer) flush(ctx context.Context, b *batch) error {
	if len(b.keep) > 0 {
		kept, err := w.r.shelf.Keep(ctx, b.keep)
		if err != nil {
			return err
		}
		w.r.count(func(t *Tally) { t.add(kept, b.bytes) })
	}
	if len(b.renew) > 0 {
		if err := w.r.shelf.Renew(ctx, b.renew); err != nil {
			return err
		}
		w.r.count(func(t *Tally) {
			t.Unchanged += len(b.renew) - b.withdrawn
			t.Withdrawn += b.withdrawn
		})
	}
	return nil
}

// clear lets go of the images and keeps the room for as many more.
func (b *batch) clear() {
	clear(b.keep)
	clear(b.renew)
	b.keep, b.renew, b.withdrawn, b.bytes = b.keep[:0], b.renew[:0], 0, 0
}

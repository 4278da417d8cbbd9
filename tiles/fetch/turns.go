package fetch

import (
	"context"
	"errors"
	"iter"
	"slices"
	"time"

	"groundsheet/tiles/store"
)

// turns works until nothing is wanted, in turns with other runs.
func (r *run) turns(ctx context.Context, wants iter.Seq2[Want, error]) error {
	next, stop := iter.Pull2(jobs(r.src, wants))
	defer stop()
	r.next = next
	var spent time.Duration
	for !r.drawn() {
		took, err := r.oneTurn(ctx)
		spent += took
		if err != nil {
			return err
		}
		h := r.ends.taken()
		if h == nil {
			h = r.leftAside()
		}
		if h != nil {
			if err := r.sitOut(ctx, h); err != nil {
				return err
			}
		}
		r.looksUp = true
	}
	return r.shelf.Timed(ctx, r.snapshot().Requests, spent)
}

// oneTurn asks for tiles until nothing is wanted, another run waits, or it is
// not the time. Everything that came is written before the turn ends.
func (r *run) oneTurn(ctx context.Context) (took time.Duration, err error) {
	turn, err := r.shelf.Lease(ctx, r.waiting)
	if err != nil {
		return 0, err
	}
	began := time.Now()
	left, ok := turn.Pace()
	r.pace.load(left, ok)
	if r.trying.fails() {
		r.pace.doubted() // one worker looks whether it answers
	}
	// Another run may have had its turn between our beginning and now.
	r.looksUp = r.looksUp || !ok || slices.ContainsFunc(left.Left, r.started.Before)
	r.gate = newGate(r, turn)
	defer func() {
		r.client.CloseIdleConnections() // they count as open ones at the source
		// A cancelled run hands over too.
		late := context.WithoutCancel(ctx)
		over := errors.Join(r.gate.giveBack(late), turn.Release(late, r.pace.hand()))
		if err == nil {
			err = over // else only what followed from the first error
		}
	}()
	r.ends.begin(ctx)
	defer r.ends.wake()
	switch h := r.pace.stillHeld(r.o.Now(), r.src.Name); {
	case h != nil && r.o.StandIn && !r.o.Patient:
		r.goDown(r.haltError(h), true)
	case h != nil:
		r.ends.with(h)
		return 0, nil
	}
	err = r.all(ctx, turn)
	return time.Since(began), err
}

// waiting tells the caller once that another run has the turn.
func (r *run) waiting() {
	r.looksUp = true
	if !r.told {
		r.told = true
		r.o.Waiting()
	}
}

// sitOut waits for the time a halt names, or is the error of one that is not
// waited for. The turn is not held meanwhile.
func (r *run) sitOut(ctx context.Context, h *halt) error {
	if h.trying {
		return r.lookAgain(ctx, h)
	}
	if !r.o.Patient {
		return r.haltError(h)
	}
	r.o.Log.Info("waiting", "until", h.until, "reason", h.detail)
	r.o.Pausing(h.until, h.detail)
	for {
		d := h.until.Sub(r.o.Now())
		if d <= 0 {
			return ctx.Err()
		}
		// In short steps: a computer that slept has lost time.
		if err := sleep(ctx, min(d, time.Minute)); err != nil {
			return err
		}
	}
}

// watch looks now and then whether another run waits for the turn.
func (r *run) watch(ctx context.Context, turn store.Lease) error {
	ticker := time.NewTicker(r.o.PassEvery)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
		wanted, err := turn.Wanted(ctx)
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			return err
		case wanted:
			r.ends.with(nil)
			return nil
		}
	}
}

package office

import (
	"context"
	"errors"
	"iter"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/store"
)

// fetch asks the source for a batch under its lease.
func (v *view) fetch(ctx context.Context, batch []tiles.ID) error {
	if err := v.open(ctx); err != nil {
		return err
	}
	shelf, done, err := v.shelf(ctx, v.looks.office.makeStore)
	if err != nil {
		return err
	}
	o := v.looks.office.Fetch
	o.Client, o.Unpaced, o.Patient, o.StandIn, o.KeepTrying = v.client, v.src.Local(), false, false, 0
	o.Progress, o.Waiting, o.Pausing, o.Trying = nil, nil, nil, nil
	o.BatchSize, o.BatchEvery, o.Attempts = 16, 100*time.Millisecond, 2
	_, err = fetch.Run(ctx, v.ready, looked{shelf, v}, v.wants(ctx, shelf, batch), o)
	return errors.Join(err, done())
}

// wants are those of a batch that somebody still waits for when their turn comes, and that
// no other run has brought since they were looked for.
func (v *view) wants(ctx context.Context, shelf store.Shelf, batch []tiles.ID) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		for _, id := range batch {
			v.mu.Lock()
			wanted := v.asked[id] != nil && v.asked[id].waiting > 0
			v.mu.Unlock()
			if !wanted {
				continue
			}
			rec, has, err := shelf.Get(ctx, id)
			if err == nil && has {
				v.deliver(id, rec, nil)
				continue
			}
			if !yield(fetch.Want{ID: id}, err) {
				return
			}
		}
	}
}

// looked hands on what is on the disk.
type looked struct {
	store.Shelf
	v *view
}

// Keep is that of the shelf.
func (l looked) Keep(ctx context.Context, recs []store.Held) (store.Kept, error) {
	kept, err := l.Shelf.Keep(ctx, recs)
	if err == nil {
		for _, rec := range recs {
			l.v.deliver(rec.ID, rec, nil)
		}
	}
	return kept, err
}

func (v *view) deliver(id tiles.ID, rec store.Held, err error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if a := v.asked[id]; a != nil {
		delete(v.asked, id)
		a.rec, a.err = store.Hashed(rec), err
		close(a.came)
	}
}

// open makes the source ready, at most every ten minutes anew.
func (v *view) open(ctx context.Context) (err error) {
	if v.done != nil && time.Since(v.opened) < reopen {
		return nil
	}
	v.closeReady()
	v.ready, v.client, v.done, err = discover.Open(ctx, v.src,
		discover.Options{Client: v.looks.office.Fetch.Client, Now: v.looks.office.Fetch.Now})
	if err != nil {
		v.done = nil
		return err
	}
	v.opened = time.Now()
	return nil
}

func (v *view) closeReady() {
	if v.done != nil {
		_ = v.done() // its only user is done
		v.done = nil
	}
}

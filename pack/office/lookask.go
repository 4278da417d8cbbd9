package office

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"sync"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

const (
	gather    = 30 * time.Millisecond // for the tiles of one screen to be asked for together
	idle      = time.Minute           // then what a source needs (its server, its file) is closed
	reopen    = 10 * time.Minute      // then a service's document is read again
	longPause = 5 * time.Minute       // a reason not to ask is looked at again after this at the latest
	pause     = 10 * time.Second      // after a failure of which nothing says how long it lasts
	mostAsked = 64                    // tiles in one run, or what two seconds allow: new places come soon
)

// view is one source being looked at.
type view struct {
	looks *Looks
	src   source.Source

	mu      sync.Mutex
	asked   map[tiles.ID]*asked
	turn    int // counts requests: the latest are asked for first
	running bool
	until   time.Time // nobody is asked before
	why     error

	ready  source.Source // only the goroutine of run uses these
	client *http.Client
	done   func() error
	opened time.Time

	oddMu    sync.Mutex
	oddRead  time.Time
	suspects map[string]pack.Suspect // by SHA-256
}

// asked is a tile that somebody waits for.
type asked struct {
	waiting int
	turn    int
	came    chan struct{}
	rec     store.Held
	err     error
}

// ask waits for a tile that is not held.
func (v *view) ask(ctx context.Context, id tiles.ID) (store.Held, error) {
	if err := v.looks.ctx.Err(); err != nil {
		return store.Held{}, err
	}
	v.mu.Lock()
	if time.Now().Before(v.until) {
		defer v.mu.Unlock()
		return store.Held{}, v.why
	}
	a := v.asked[id]
	if a == nil {
		a = &asked{came: make(chan struct{})}
		v.asked[id] = a
	}
	v.turn++
	a.waiting, a.turn = a.waiting+1, v.turn
	if !v.running {
		v.running = true
		v.looks.work.Go(v.run)
	}
	v.mu.Unlock()
	select {
	case <-a.came:
		return a.rec, a.err
	case <-v.looks.ctx.Done():
		return store.Held{}, v.looks.ctx.Err()
	case <-ctx.Done():
		v.mu.Lock()
		a.waiting--
		v.mu.Unlock()
		return store.Held{}, ctx.Err()
	}
}

// run asks for what is waited for until nothing has been for a while.
func (v *view) run() {
	defer v.closeReady()
	for last := time.Now(); ; {
		batch := v.next(time.Since(last) > idle || v.looks.ctx.Err() != nil)
		if batch == nil {
			return
		}
		if len(batch) > 0 {
			v.settle(batch, v.fetch(v.looks.ctx, batch))
			last = time.Now()
			continue
		}
		select {
		case <-time.After(gather):
		case <-v.looks.ctx.Done():
		}
	}
}

// next takes the tiles to ask for now, in tile order; nil when the run ends.
func (v *view) next(over bool) []tiles.ID {
	v.mu.Lock()
	defer v.mu.Unlock()
	ids := []tiles.ID{}
	for id, a := range v.asked {
		if a.waiting > 0 {
			ids = append(ids, id)
		} else {
			delete(v.asked, id)
		}
	}
	if len(ids) == 0 && over {
		v.running = false
		return nil
	}
	slices.SortFunc(ids, func(a, b tiles.ID) int { return cmp.Compare(v.asked[b].turn, v.asked[a].turn) })
	ids = ids[:min(len(ids), max(1, min(mostAsked, int(2*v.src.Terms.RequestsPerSecond))))]
	slices.SortFunc(ids, func(a, b tiles.ID) int {
		return cmp.Or(cmp.Compare(a.Z, b.Z), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X))
	})
	return ids
}

// settle answers what did not come: another run may have brought it. A reason that
// holds for the whole source answers everything that is waited for.
func (v *view) settle(batch []tiles.ID, err error) {
	some, _ := errors.AsType[*fetch.Incomplete](err)
	if err != nil && some == nil {
		v.shut(err)
	}
	for _, id := range batch {
		v.mu.Lock()
		a := v.asked[id]
		left := a != nil && a.waiting > 0 && (err != nil || v.looks.ctx.Err() == nil)
		v.mu.Unlock()
		if !left {
			continue
		}
		rec, getErr := v.held(v.looks.ctx, id)
		switch {
		case rec != nil:
			v.deliver(id, *rec, nil)
		case err != nil || getErr != nil:
			v.deliver(id, store.Held{}, cmp.Or(err, getErr))
		default: // it was not waited for when its turn came, and is now: the next run asks
		}
	}
}

// shut answers all that wait with an error, and who comes before it can be over.
func (v *view) shut(err error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.why, v.until = err, time.Now().Add(pause)
	if s, ok := errors.AsType[*fetch.Stop](err); ok && !s.Until.IsZero() {
		v.until = time.Now().Add(min(max(s.Until.Sub(v.looks.office.now()), 0), longPause))
	}
	for id, a := range v.asked {
		delete(v.asked, id)
		a.err = err
		close(a.came)
	}
}

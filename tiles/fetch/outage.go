package fetch

import (
	"context"
	"math/rand/v2"
	"sync"
	"time"

	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/store"
)

// The pauses between two tries at a source that fails, doubled each time; the
// project's own choice.
const (
	firstPause = 10 // times Options.Backoff
	lastPause  = 5 * time.Minute
)

// outage is how a run keeps trying a source that fails, until it has not
// answered for a stated time.
type outage struct {
	most time.Duration // 0 = not at all

	mu    sync.Mutex
	since time.Time // when it began to fail, by the clock of this machine; zero = it answers
	pause time.Duration
	began bool // a first pause was reported
}

// active reports whether the source has answered nothing since it began to fail.
func (o *outage) active() bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	return !o.since.IsZero()
}

func (o *outage) answered() {
	o.mu.Lock()
	o.since, o.pause = time.Time{}, 0
	o.mu.Unlock()
}

// goesOn reports whether the run keeps trying after a Stop; the time begins at
// the first one.
func (o *outage) goesOn(s *Stop) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.most == 0 || !s.outage {
		return false
	}
	if o.since.IsZero() {
		o.since = time.Now()
	}
	return time.Since(o.since) < o.most
}

// next is the pause before the next try, and whether it is the first of all;
// end is when the run gives up.
func (o *outage) next(backoff time.Duration) (pause time.Duration, end time.Time, first bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.pause = min(max(2*o.pause, firstPause*backoff), lastPause)
	first, o.began = !o.began, true
	since := o.since
	if since.IsZero() { // another request was answered meanwhile
		since = time.Now()
	}
	end = since.Add(o.most)
	return min(o.pause*3/4+rand.N(o.pause/2+1), max(time.Until(end), 0)), end, first
}

// someFailed is the Stop before jobs that were put aside are tried again.
func (o *outage) someFailed() *Stop {
	s := &Stop{Why: StopRow, Detail: "some tiles failed", scope: scopeLease, outage: true}
	o.goesOn(s) // the time begins
	return s
}

// triedFor says how long the run kept trying, "" if it did not.
func (o *outage) triedFor() string {
	if o.most == 0 || !o.active() {
		return ""
	}
	return ", tried for " + measure.Duration(o.most)
}

// untilAnswered makes a failed try end the lease: nothing is asked for a while.
func (s *Stop) untilAnswered() *Stop {
	later := *s
	later.Why, later.scope = StopUnreachable, scopeLease
	return &later
}

// waitOutOutage waits before a source that fails is asked again.
func (r *run) waitOutOutage(ctx context.Context, s *Stop) error {
	pause, end, first := r.outage.next(r.o.Backoff)
	r.o.Log.Info("the source fails, and is asked again", "seconds", pause.Seconds(), "reason", s.Error())
	if first {
		r.o.Trying(end, s.Error())
	}
	if err := pace.Sleep(ctx, pause); err != nil {
		return err
	}
	r.count(func(t *Tally) { t.Waited += pause })
	r.queue.returnAside()
	return nil
}

// Retry does something before a run that asks the source too, such as reading
// its document. While the source fails it is done again, as [Run] does with
// Options.KeepTrying; Trying and Backoff count too. The error is the last one of
// do, or the context's.
func Retry(ctx context.Context, o Options, do func() (outage bool, err error)) error {
	o = o.filled()
	trying := outage{most: o.KeepTrying}
	for {
		failed, err := do()
		if err == nil || !trying.goesOn(&Stop{outage: failed}) {
			return err
		}
		pause, end, first := trying.next(o.Backoff)
		if first {
			o.Trying(end, err.Error())
		}
		if err := pace.Sleep(ctx, pause); err != nil {
			return err
		}
	}
}

// Waiting returns the end of the pause that a source asked a run to keep, by the
// clock of now and at most a day ahead. It is zero if there is no pause, and
// while a run holds the lease. Errors are those of the store.
func Waiting(ctx context.Context, shelf store.Reader, now time.Time) (until time.Time, err error) {
	until, err = shelf.Pause(ctx)
	if err != nil || !until.After(now) {
		return time.Time{}, err
	}
	return pace.Cap(until, now), nil
}

// EndWait lifts the wait of a source that was seen to answer, so that the next
// run asks it at once; the request that saw it counts for the pace. lifted is
// false, and nothing is changed, when another run has the turn: that run looks
// for itself. Errors are those of the store.
func EndWait(ctx context.Context, shelf store.Writer) (lifted bool, err error) {
	waits, stop := context.WithCancel(ctx)
	defer stop()
	turn, err := shelf.Lease(waits, stop)
	if err != nil {
		if ctx.Err() == nil && waits.Err() != nil {
			return false, nil
		}
		return false, err
	}
	left, _ := turn.RateState()
	left.Until, left.Left = time.Time{}, append(left.Left, time.Now())
	return true, turn.Release(context.WithoutCancel(ctx), left)
}

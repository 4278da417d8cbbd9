package fetch

import (
	"context"
	"math/rand/v2"
	"sync"
	"time"

	"groundsheet/tiles/measure"
)

// The pauses between two looks at a source that fails, doubled each time; the
// project's own choice, no source.
const (
	firstPause = 10 // times Options.Backoff
	lastPause  = 5 * time.Minute
)

// trying is how a run keeps trying a source that fails, for as long as it was
// told to since the source last answered.
type trying struct {
	most time.Duration // 0 = not at all

	mu    sync.Mutex
	since time.Time // when it began to fail, by the clock of this machine; zero = it answers
	pause time.Duration
	aside []job // failed, to be asked for again
	told  bool
}

// fails reports whether the source has answered nothing since it began to fail.
func (t *trying) fails() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return !t.since.IsZero()
}

func (t *trying) answered() {
	t.mu.Lock()
	t.since, t.pause = time.Time{}, 0
	t.mu.Unlock()
}

// more reports whether there is time left; it begins to run at the first call.
func (t *trying) more() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.most > 0 && t.since.IsZero() {
		t.since = time.Now()
	}
	return t.most > 0 && time.Since(t.since) < t.most
}

// set puts a job aside.
func (t *trying) set(j job) {
	t.mu.Lock()
	t.aside = append(t.aside, j)
	t.mu.Unlock()
}

// taken gives the jobs that were put aside.
func (t *trying) taken() []job {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := t.aside
	t.aside = nil
	return all
}

// next is the pause before the next look, and whether it is the first of all;
// end is when the run gives up.
func (t *trying) next(backoff time.Duration) (pause time.Duration, end time.Time, first bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.pause = min(max(2*t.pause, firstPause*backoff), lastPause)
	first, t.told = !t.told, true
	end = t.since.Add(t.most)
	return min(t.pause*3/4+rand.N(t.pause/2+1), max(time.Until(end), 0)), end, first
}

// Keep does something before a run that asks the source too, such as reading its
// document. While the source fails it is done again, as [Run] does with
// Options.KeepTrying; Trying and Backoff are looked at too. The error is the last
// one of do, or the context's.
func Keep(ctx context.Context, o Options, do func() (outage bool, err error)) error {
	o = o.filled()
	t := trying{most: o.KeepTrying}
	for {
		outage, err := do()
		if err == nil || !outage || !t.more() {
			return err
		}
		pause, end, first := t.next(o.Backoff)
		if first {
			o.Trying(end, err.Error())
		}
		if err := sleep(ctx, pause); err != nil {
			return err
		}
	}
}

// tryLater says what becomes of a job that failed because the source does: a
// halt when nothing is asked for a while, or put aside while the source
// answers for other tiles. It is false when the run does not keep trying.
func (r *run) tryLater(j job, bad *trouble, whole bool, reason string) (*halt, bool) {
	if !bad.outage || !r.trying.more() {
		return nil, false
	}
	if whole {
		return &halt{why: StopUnreachable, detail: reason, trying: true}, true
	}
	r.trying.set(j)
	return nil, true
}

// leftAside is the halt before the jobs that were put aside are asked for again,
// nil while there is something else to do.
func (r *run) leftAside() *halt {
	r.drawing.Lock()
	busy := !r.dry || len(r.back) > 0
	r.drawing.Unlock()
	r.trying.mu.Lock()
	n := len(r.trying.aside)
	r.trying.mu.Unlock()
	if busy || n == 0 {
		return nil
	}
	r.trying.more() // from now on
	return &halt{why: StopRow, detail: "some tiles failed", trying: true}
}

// lookAgain waits before a source that fails is asked again. The turn is not
// held meanwhile.
func (r *run) lookAgain(ctx context.Context, h *halt) error {
	pause, end, first := r.trying.next(r.o.Backoff)
	r.o.Log.Info("the source fails, and is asked again", "seconds", pause.Seconds(), "reason", r.src.Redact(h.detail))
	if first {
		r.o.Trying(end, r.src.Redact(h.detail))
	}
	if err := sleep(ctx, pause); err != nil {
		return err
	}
	r.count(func(t *Tally) { t.Waited += pause })
	for _, j := range r.trying.taken() {
		r.putBack(j)
	}
	return nil
}

// triedFor adds to a reason how long the run kept trying.
func (r *run) triedFor(detail string) string {
	if r.trying.most == 0 || !r.trying.fails() {
		return detail
	}
	return detail + ", tried for " + measure.Duration(r.trying.most)
}

package fetch

import (
	"context"
	"math"
	"slices"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/store"
)

const (
	// headroom keeps the pace a little under the stated rate: requests leave
	// evenly but arrive with a jitter, and R+1 of them must not arrive within
	// one second.
	headroom = 0.98
	// spread is how much longer than their share of a second the latest
	// requests must be spread, whatever the limiter says.
	spread = 1.01
	// slowest is the share of the stated rate below which 429 pushes no further.
	slowest = 1.0 / 64
	// growth is the share of the stated rate that comes back at a time.
	growth = 0.1
	// longestPause is the longest wait a run makes on the source's word.
	longestPause = 15 * time.Minute
	// longestWait is the longest wait that a source's word is kept for: one
	// slip of a server must not shut it for years (the project's own choice, no
	// source). After it one tile at a time is asked until one is answered.
	longestWait = 24 * time.Hour
)

// pace decides when the next request may leave. All workers share it. The
// limiter spaces the turns evenly; on a busy machine late ones would still
// leave together, so the times requests really left are looked at too.
type pace struct {
	free         bool // no pace at all
	limiter      *rate.Limiter
	stated       rate.Limit // less the headroom
	recoverEvery time.Duration

	mu     sync.Mutex
	share  float64       // of the stated rate: less after 429
	until  time.Time     // nobody asks before
	doubt  bool          // after a long wait nothing was answered yet: one asks at a time
	slowed time.Time     // when the rate was last halved
	quiet  time.Time     // since when nothing speaks against growing
	left   []time.Time   // when the last len(left) requests left, as a ring
	window time.Duration // holds no more than len(left) of them
	turns  int           // the ring goes on at turns % len(left)
}

func newPace(perSecond float64, o Options) *pace {
	limit := rate.Limit(perSecond * headroom)
	n := int(min(max(math.Ceil(perSecond), 1), 10000))
	return &pace{
		free: o.Unpaced, recoverEvery: o.RecoverEvery, share: 1, quiet: time.Now(),
		limiter: rate.NewLimiter(limit, 1), stated: limit,
		left: make([]time.Time, n), window: time.Duration(float64(n) / perSecond * spread * float64(time.Second)),
	}
}

// load takes over from the run before. When that ended without a word, every
// place of the ring counts as used just now.
func (p *pace) load(from store.RateState, known bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	clear(p.left)
	p.turns = 0
	if !known {
		for i := range p.left {
			p.left[i] = now
		}
		return
	}
	latest := from.Left[max(len(from.Left)-len(p.left), 0):]
	for i, at := range latest {
		p.left[i] = earlier(at, now) // a clock may have been set back
	}
	p.turns = len(latest)
	p.until = capped(from.Until, now)
	p.doubt = !from.Until.IsZero()
	p.takeShare(from, now)
}

// takeShare goes on with the share of the run before: it grows for the time
// that nobody asked, and only once for all runs.
func (p *pace) takeShare(from store.RateState, now time.Time) {
	share := from.Share
	if share <= 0 || share > 1 {
		share = 1
	}
	if n := len(from.Left); n > 0 {
		idle := now.Sub(earlier(from.Left[n-1], now))
		share = min(1, share+growth*float64(idle/p.recoverEvery))
	}
	if share != p.share {
		p.share, p.quiet = share, now
		p.limiter.SetLimit(p.stated * rate.Limit(share))
	}
}

// hand gives what the next run must know.
func (p *pace) hand() store.RateState {
	p.mu.Lock()
	defer p.mu.Unlock()
	left := slices.DeleteFunc(slices.Clone(p.left), time.Time.IsZero)
	slices.SortFunc(left, time.Time.Compare)
	out := store.RateState{Left: left, Share: p.share}
	if p.doubt || p.until.After(time.Now()) { // one that is over tells the next run to ask with care
		out.Until = p.until
	}
	return out
}

// stillHeld is the pause of a run before when it is longer than a run waits.
func (p *pace) stillHeld(now time.Time, name string) *halt {
	d := time.Until(p.pausedUntil())
	if d <= longestPause {
		return nil
	}
	return longWait(now.Add(d), "it asked a run before to wait, "+measure.Duration(d)+" more", name)
}

func longWait(until time.Time, detail, name string) *halt {
	return &halt{why: StopWait, until: until, detail: detail, remedy: "run again after that time (what came is kept), or look whether it answers before: groundsheet source try " + name}
}

// capped keeps a wait to the longest that a source's word is kept for.
func capped(until, now time.Time) time.Time { return earlier(until, now.Add(longestWait)) }

// doubts reports whether the source has yet to answer after a long wait.
func (p *pace) doubts() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.doubt
}

// doubted has one worker alone ask until the source has answered it.
func (p *pace) doubted() {
	p.mu.Lock()
	p.doubt = true
	p.mu.Unlock()
}

// trust says that the source answered.
func (p *pace) trust() {
	p.mu.Lock()
	p.doubt = false
	p.mu.Unlock()
}

// turn waits until a request may leave; call gone, unless it is nil, when it
// has left.
func (p *pace) turn(ctx context.Context) (gone func(), err error) {
	if p.free {
		return nil, ctx.Err()
	}
	if err := p.wait(ctx); err != nil {
		return nil, err
	}
	for {
		d, slot := p.take()
		if d <= 0 {
			return func() { p.stamp(slot) }, ctx.Err()
		}
		if err := sleep(ctx, d); err != nil {
			return nil, err
		}
	}
}

// take gives a place in the ring, or how long to wait for one.
func (p *pace) take() (wait time.Duration, slot int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	slot = p.turns % len(p.left)
	if oldest := p.left[slot]; !oldest.IsZero() {
		wait = oldest.Add(p.window).Sub(now)
	}
	if wait = max(wait, p.until.Sub(now)); wait > 0 {
		return wait, 0
	}
	p.left[slot] = now
	p.turns++
	return 0, slot
}

// stamp moves the time of a turn to when its request was written.
func (p *pace) stamp(slot int) {
	p.mu.Lock()
	p.left[slot] = time.Now()
	p.mu.Unlock()
}

// wait is for the pause and the even spacing.
func (p *pace) wait(ctx context.Context) error {
	p.grow(time.Now())
	for {
		if d := time.Until(p.pausedUntil()); d > 0 {
			if err := sleep(ctx, d); err != nil {
				return err
			}
			continue // the pause may have grown
		}
		if err := p.limiter.Wait(ctx); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return context.DeadlineExceeded // the limiter foresees it
		}
		// A pause that began during the wait takes the turn back, or every
		// waiting worker would ask at once when it ends.
		if time.Until(p.pausedUntil()) <= 0 {
			return ctx.Err()
		}
	}
}

func (p *pace) pausedUntil() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.until
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

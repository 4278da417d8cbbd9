package fetch

import (
	"context"
	"math"
	"net/http"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

const (
	// headroom keeps the pace a little under the stated rate: requests leave
	// evenly but arrive with a jitter, and R+1 of them must not arrive within
	// one second.
	headroom = 0.98
	// slowest is the share of the stated rate below which 429 pushes no further.
	slowest = 1.0 / 64
	// longestPause is the longest wait a run makes on the source's word.
	longestPause = 15 * time.Minute
)

// pace decides when the next request may leave. All workers share it. The
// limiter spaces the turns evenly; on a busy machine late ones would still
// leave together, so the times requests really left are looked at too.
type pace struct {
	free    bool // no pace at all
	limiter *rate.Limiter

	mu     sync.Mutex
	floor  rate.Limit
	until  time.Time     // nobody asks before
	slowed time.Time     // when the rate was last halved
	left   []time.Time   // when the last len(left) requests left, as a ring
	window time.Duration // holds no more than len(left) of them
	turns  int
}

func newPace(perSecond float64, o Options) *pace {
	limit := rate.Limit(perSecond * headroom)
	n := int(min(max(math.Ceil(perSecond), 1), 10000))
	return &pace{
		free:    o.Unpaced,
		limiter: rate.NewLimiter(limit, 1), floor: limit * slowest,
		left: make([]time.Time, n), window: time.Duration(float64(n) / float64(limit) * float64(time.Second)),
	}
}

// turn waits until a request may leave; call gone when it has left.
func (p *pace) turn(ctx context.Context) (gone func(), err error) {
	if p.free {
		return func() {}, ctx.Err()
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

// pause holds every worker back for d from now and gives the time added to
// the pause that already holds.
func (p *pace) pause(d time.Duration) (added time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	end := now.Add(d)
	if !end.After(p.until) {
		return 0
	}
	from := p.until
	if from.Before(now) {
		from = now
	}
	p.until = end
	return end.Sub(from)
}

// slow halves the rate for the rest of the run, once for all the requests
// that were on their way together. It gives the new rate a second.
func (p *pace) slow(sent time.Time) (perSecond float64, slower bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	limit := p.limiter.Limit()
	if sent.Before(p.slowed) || limit/2 < p.floor {
		return float64(limit), false
	}
	p.slowed = time.Now()
	p.limiter.SetLimit(limit / 2)
	return float64(limit / 2), true
}

// retryAfter reads Retry-After (RFC 9110, 10.2.3): seconds from receipt, or a
// date. A date is taken against the answer's own Date, so that a wrong clock
// on either side does no harm. ok is false when there is none to be read.
func retryAfter(h http.Header, received time.Time) (d time.Duration, ok bool) {
	text := strings.TrimSpace(h.Get("Retry-After"))
	if d, ok := deltaSeconds(text); ok {
		return d, true
	}
	at, err := http.ParseTime(text)
	if err != nil {
		return 0, false
	}
	if date, err := http.ParseTime(h.Get("Date")); err == nil {
		received = date
	}
	return max(at.Sub(received), 0), true
}

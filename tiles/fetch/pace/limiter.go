// Package pace keeps requests to a server within a stated rate: evenly spaced,
// never more than stated within a second, slower after a 429, and paused when
// the server asks for it. Its state can be handed to the next run, in another
// process too, so that all runs together keep one rate.
//
// The library x/time/rate is at home here.
package pace

import (
	"context"
	"math"
	"net/http"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"groundsheet/tiles/fetch/httpcache"
)

const (
	// headroom keeps the pace a little under the stated rate: requests leave
	// evenly but arrive with jitter, and R+1 of them must not arrive within
	// one second.
	headroom = 0.98
	// spread is how much longer than their share of a second the latest
	// requests must be spread, whatever the limiter says.
	spread = 1.01
	// slowest is the share of the stated rate below which a 429 pushes no further.
	slowest = 1.0 / 64
	// growth is the share of the stated rate that comes back at a time.
	growth = 0.1
)

// Limiter decides when the next request may leave. All workers share it.
// x/time/rate spaces the requests evenly; on a busy machine late ones would
// still leave together, so a ring of the times they really left bounds them too.
type Limiter struct {
	unlimited    bool
	limiter      *rate.Limiter
	stated       rate.Limit // less the headroom
	recoverEvery time.Duration

	mu      sync.Mutex
	share   float64       // of the stated rate: less after a 429
	until   time.Time     // no request before
	probing bool          // after a long wait nothing was answered yet
	slowed  time.Time     // when the rate was last halved
	quiet   time.Time     // since when nothing speaks against growing
	left    []time.Time   // when the last len(left) requests left, as a ring
	window  time.Duration // may not hold more than len(left) of them
	next    int           // the ring goes on at next % len(left)
}

// New makes a limiter for a rate per second; 0 = no limit. The rate grows by a
// tenth after each recoverEvery without a 429.
func New(perSecond float64, recoverEvery time.Duration) *Limiter {
	l := &Limiter{unlimited: perSecond <= 0, recoverEvery: recoverEvery, share: 1, quiet: time.Now()}
	if l.unlimited {
		perSecond = 1
	}
	n := int(min(max(math.Ceil(perSecond), 1), 10000))
	l.stated = rate.Limit(perSecond * headroom)
	l.limiter = rate.NewLimiter(l.stated, 1)
	l.left = make([]time.Time, n)
	l.window = time.Duration(float64(n) / perSecond * spread * float64(time.Second))
	return l
}

// Unlimited reports whether [Limiter.Wait] never waits.
func (l *Limiter) Unlimited() bool { return l.unlimited }

// Wait waits until a request may leave; call sent, unless it is nil, when it
// has been written. The error is the context's, or context.DeadlineExceeded if
// its deadline would pass first.
func (l *Limiter) Wait(ctx context.Context) (sent func(), err error) {
	if l.unlimited {
		return nil, ctx.Err()
	}
	if err := l.waitEven(ctx); err != nil {
		return nil, err
	}
	for {
		d, place := l.claim()
		if d <= 0 {
			return func() { l.stamp(place) }, ctx.Err()
		}
		if err := Sleep(ctx, d); err != nil {
			return nil, err
		}
	}
}

// claim takes a place in the ring, or returns how long to wait for one.
func (l *Limiter) claim() (wait time.Duration, place int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	place = l.next % len(l.left)
	if oldest := l.left[place]; !oldest.IsZero() {
		wait = oldest.Add(l.window).Sub(now)
	}
	if wait = max(wait, l.until.Sub(now)); wait > 0 {
		return wait, 0
	}
	l.left[place] = now
	l.next++
	return 0, place
}

// stamp moves the time of a place to when its request was written.
func (l *Limiter) stamp(place int) {
	l.mu.Lock()
	l.left[place] = time.Now()
	l.mu.Unlock()
}

// waitEven waits for the end of the pause and for the even spacing.
func (l *Limiter) waitEven(ctx context.Context) error {
	l.grow(time.Now())
	for {
		if d := l.Paused(); d > 0 {
			if err := Sleep(ctx, d); err != nil {
				return err
			}
			continue // the pause may have grown
		}
		if err := l.limiter.Wait(ctx); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return context.DeadlineExceeded // x/time/rate foresees it
		}
		// A pause that began during the wait cancels it, or every waiting worker
		// would send at once when the pause ends.
		if l.Paused() <= 0 {
			return ctx.Err()
		}
	}
}

// Sleep waits for d or the end of the context, and returns the context's error.
func Sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

const (
	// LongestPause is the longest wait that a run sits out at a server's word.
	LongestPause = 15 * time.Minute
	// LongestWait is the longest wait that is kept to at all: one slip of a server
	// must not lock it out for years (the project's own choice). After it, one
	// worker probes until the server answers.
	LongestWait = 24 * time.Hour
)

// Cap shortens a wait to [LongestWait].
func Cap(until, now time.Time) time.Time { return earlier(until, now.Add(LongestWait)) }

// RetryAfter reads Retry-After (RFC 9110, 10.2.3): seconds from receipt, or a
// date. A date is compared with the response's own Date, so that a wrong clock
// on either side does no harm. ok is false if there is none or it is invalid.
func RetryAfter(h http.Header, received time.Time) (d time.Duration, ok bool) {
	text := strings.TrimSpace(h.Get("Retry-After"))
	if d, ok := httpcache.Seconds(text); ok {
		return d, true
	}
	at, err := httpcache.Date(text, received)
	if err != nil {
		return 0, false
	}
	if date, err := httpcache.Date(h.Get("Date"), received); err == nil {
		received = date
	}
	return max(at.Sub(received), 0), true
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

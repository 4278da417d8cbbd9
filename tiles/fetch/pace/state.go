package pace

import (
	"slices"
	"time"

	"golang.org/x/time/rate"
)

// Handover is what the next run must know of the requests before its own.
type Handover struct {
	Left  []time.Time // when the latest requests left, oldest first
	Until time.Time   // no request before; zero = no pause
	Share float64     // of the stated rate, after the server asked for less; 0 = all of it
}

// Load continues from the state of the previous run. If that run ended without
// handing one over, every place of the ring counts as used just now.
func (l *Limiter) Load(from Handover, handedOver bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	clear(l.left)
	l.next = 0
	if !handedOver {
		for i := range l.left {
			l.left[i] = now
		}
		return
	}
	latest := from.Left[max(len(from.Left)-len(l.left), 0):]
	for i, at := range latest {
		l.left[i] = earlier(at, now) // the clock may have been set back
	}
	l.next = len(latest)
	l.until = Cap(from.Until, now)
	l.probing = !from.Until.IsZero()
	l.loadShare(from, now)
}

// loadShare grows the share for the time that no run sent a request.
func (l *Limiter) loadShare(from Handover, now time.Time) {
	share := from.Share
	if share <= 0 || share > 1 {
		share = 1
	}
	if n := len(from.Left); n > 0 {
		idle := now.Sub(earlier(from.Left[n-1], now))
		share = min(1, share+growth*float64(idle/l.recoverEvery))
	}
	if share != l.share {
		l.setShare(share, now)
	}
}

// State is what to hand over.
func (l *Limiter) State() Handover {
	l.mu.Lock()
	defer l.mu.Unlock()
	left := slices.DeleteFunc(slices.Clone(l.left), time.Time.IsZero)
	slices.SortFunc(left, time.Time.Compare)
	out := Handover{Left: left, Share: l.share}
	if l.probing || l.until.After(time.Now()) { // a past one makes the next run probe
		out.Until = l.until
	}
	return out
}

// Pause stops all requests for d from now and returns the time added to the
// current pause. A pause never gets shorter. After one longer than
// [LongestPause] the limiter is [Limiter.Probing].
func (l *Limiter) Pause(d time.Duration) (added time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	end := now.Add(d)
	if !end.After(l.until) {
		return 0
	}
	from := l.until
	if from.Before(now) {
		from = now
	}
	l.until = end
	l.probing = l.probing || d > LongestPause
	return end.Sub(from)
}

// Paused is the rest of the pause, negative if there is none.
func (l *Limiter) Paused() time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	return time.Until(l.until)
}

// Probing reports whether the server has yet to answer after a long wait or an
// outage: then a single worker should send requests.
func (l *Limiter) Probing() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.probing
}

// Probe sets what [Limiter.Probing] reports; false = the server answered.
func (l *Limiter) Probe(on bool) {
	l.mu.Lock()
	l.probing = on
	l.mu.Unlock()
}

// SlowDown halves the rate after a 429 to a request sent at a time: once for all
// requests that were in flight together. It returns the rate per second.
func (l *Limiter) SlowDown(sent time.Time) (perSecond float64, slower bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.quiet = time.Now()
	if slower = !sent.Before(l.slowed) && l.share/2 >= slowest; slower {
		l.slowed = l.quiet
		l.setShare(l.share/2, l.quiet)
	}
	return float64(l.stated) * l.share, slower
}

// grow returns a tenth of the stated rate after a time without a 429.
func (l *Limiter) grow(now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.share < 1 && now.Sub(l.quiet) >= l.recoverEvery {
		l.setShare(min(1, l.share+growth), now)
	}
}

func (l *Limiter) setShare(share float64, now time.Time) {
	l.share, l.quiet = share, now
	l.limiter.SetLimit(l.stated * rate.Limit(share))
}

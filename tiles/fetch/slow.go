package fetch

import (
	"net/http"
	"strings"
	"time"

	"golang.org/x/time/rate"
)

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
	p.doubt = p.doubt || d > longestPause
	return end.Sub(from)
}

// slow halves the rate, once for all the requests that were on their way
// together. It gives the new rate a second.
func (p *pace) slow(sent time.Time) (perSecond float64, slower bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.quiet = time.Now()
	if sent.Before(p.slowed) || p.share/2 < slowest {
		return float64(p.stated) * p.share, false
	}
	p.slowed = time.Now()
	p.share /= 2
	p.limiter.SetLimit(p.stated * rate.Limit(p.share))
	return float64(p.stated) * p.share, true
}

// grow gives a tenth of the stated rate back after a time without 429.
func (p *pace) grow(now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.share >= 1 || now.Sub(p.quiet) < p.recoverEvery {
		return
	}
	p.share, p.quiet = min(1, p.share+growth), now
	p.limiter.SetLimit(p.stated * rate.Limit(p.share))
}

// retryAfter reads Retry-After (RFC 9110, 10.2.3): seconds from receipt, or a
// date. A date is taken against the answer's own Date, so that a wrong clock
// on either side does no harm. ok is false when there is none to be read.
func retryAfter(h http.Header, received time.Time) (d time.Duration, ok bool) {
	text := strings.TrimSpace(h.Get("Retry-After"))
	if d, ok := deltaSeconds(text); ok {
		return d, true
	}
	at, err := httpDate(text, received)
	if err != nil {
		return 0, false
	}
	if date, err := httpDate(h.Get("Date"), received); err == nil {
		received = date
	}
	return max(at.Sub(received), 0), true
}

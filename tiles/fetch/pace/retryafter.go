package pace

import (
	"net/http"
	"strings"
	"time"

	"groundsheet/tiles/fetch/httpcache"
)

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

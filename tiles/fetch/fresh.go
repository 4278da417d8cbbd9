package fetch

import (
	"net/http"
	"slices"
	"strings"
	"time"
)

// Freshness is how long after its receipt an answer stays fresh for a private
// cache (RFC 9111, 4.2): max-age, else Expires − Date, else a tenth of the
// time since Last-Modified for statuses that allow a guess, less the age it
// came with. It is 0 for an answer that is stale on arrival or that may never
// be used without asking (no-cache, Vary: *), and never negative. requested
// and received are when the request left and the answer came, by one clock.
func Freshness(h http.Header, status int, requested, received time.Time) time.Duration {
	return freshness(reply{header: h, says: cacheControl(h), status: status, requested: requested, received: received})
}

func freshness(rep reply) time.Duration {
	h, received := rep.header, rep.received
	date, err := httpDate(h.Get("Date"), received)
	if err != nil {
		date = received
	}
	return max(lifetime(rep, date)-initialAge(h, date, rep.requested, received), 0)
}

// lifetime is the freshness lifetime of RFC 9111, 4.2.1 and 4.2.2.
func lifetime(rep reply, date time.Time) time.Duration {
	h, cc := rep.header, rep.says
	if cc.has("no-cache") || variesAlways(h) {
		return 0
	}
	if cc.has("max-age") {
		return cc.seconds("max-age")
	}
	if expires := h.Values("Expires"); len(expires) > 0 {
		return untilExpires(expires, date)
	}
	modified, err := httpDate(h.Get("Last-Modified"), date)
	if err != nil || !mayGuess(rep.status) || !modified.Before(date) {
		return 0
	}
	return date.Sub(modified) / 10
}

// untilExpires takes an invalid date, "0" above all, as expired (5.3).
func untilExpires(values []string, date time.Time) time.Duration {
	least := longestAge
	for _, v := range values {
		at, err := httpDate(v, date)
		if err != nil {
			return 0
		}
		least = min(least, at.Sub(date))
	}
	return least
}

// initialAge is the corrected_initial_age of RFC 9111, 4.2.3.
func initialAge(h http.Header, date, requested, received time.Time) time.Duration {
	apparent := max(received.Sub(date), 0)
	first, _, _ := strings.Cut(h.Get("Age"), ",")
	age, _ := deltaSeconds(strings.TrimSpace(first)) // an invalid Age is ignored
	return max(apparent, age+received.Sub(requested))
}

// mayGuess reports whether the status is heuristically cacheable (RFC 9110, 15.1).
func mayGuess(status int) bool {
	return slices.Contains([]int{200, 203, 204, 206, 300, 301, 308, 404, 405, 410, 414, 501}, status)
}

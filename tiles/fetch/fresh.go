package fetch

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// longestAge is what a delta-seconds that overflows means (RFC 9111, 1.2.2).
const longestAge = 2147483648 * time.Second

// Freshness is how long after its receipt an answer stays fresh for a private
// cache (RFC 9111, 4.2): max-age, else Expires − Date, else a tenth of the
// time since Last-Modified for statuses that allow a guess, less the age it
// came with. It is 0 for an answer that is stale on arrival, and never
// negative. requested and received are when the request left and the answer
// came, by one clock.
func Freshness(h http.Header, status int, requested, received time.Time) time.Duration {
	date, err := http.ParseTime(h.Get("Date"))
	if err != nil {
		date = received
	}
	return max(lifetime(h, status, date)-initialAge(h, date, requested, received), 0)
}

// lifetime is the freshness lifetime of RFC 9111, 4.2.1 and 4.2.2.
func lifetime(h http.Header, status int, date time.Time) time.Duration {
	cc := cacheControl(h)
	if _, never := cc["no-cache"]; never {
		return 0
	}
	if ages, ok := cc["max-age"]; ok {
		return leastAge(ages)
	}
	if expires := h.Values("Expires"); len(expires) > 0 {
		return untilExpires(expires, date)
	}
	modified, err := http.ParseTime(h.Get("Last-Modified"))
	if err != nil || !mayGuess(status) || !modified.Before(date) {
		return 0
	}
	return date.Sub(modified) / 10
}

// leastAge is the most restrictive of several values; one that is no whole
// number makes the answer stale (4.2.1).
func leastAge(values []string) time.Duration {
	least := longestAge
	for _, v := range values {
		d, ok := deltaSeconds(v)
		if !ok {
			return 0
		}
		least = min(least, d)
	}
	return least
}

// untilExpires takes an invalid date, "0" above all, as expired (5.3).
func untilExpires(values []string, date time.Time) time.Duration {
	least := longestAge
	for _, v := range values {
		at, err := http.ParseTime(v)
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

// deltaSeconds reads digits only; a number too large means the longest age.
func deltaSeconds(s string) (time.Duration, bool) {
	if s == "" || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n > int64(longestAge/time.Second) {
		return longestAge, true
	}
	return time.Duration(n) * time.Second, true
}

// cacheControl lists the directives in lower case with their values as
// written, quotes included: a quoted max-age is not a number (5.2).
func cacheControl(h http.Header) map[string][]string {
	out := map[string][]string{}
	for _, line := range h.Values("Cache-Control") {
		for _, d := range splitUnquoted(line) {
			name, value, _ := strings.Cut(d, "=")
			if name = strings.ToLower(strings.TrimSpace(name)); name != "" {
				out[name] = append(out[name], strings.TrimSpace(value))
			}
		}
	}
	return out
}

// splitUnquoted splits at commas outside quoted strings.
func splitUnquoted(s string) (parts []string) {
	quoted, escaped, start := false, false, 0
	for i := range len(s) {
		switch c := s[i]; {
		case escaped:
			escaped = false
		case quoted && c == '\\':
			escaped = true
		case c == '"':
			quoted = !quoted
		case c == ',' && !quoted:
			parts = append(parts, s[start:i])
			start = i + 1
		}
	}
	return append(parts, s[start:])
}

// noTransform reports whether the answer forbids changing the image (5.2.2.6).
func noTransform(h http.Header) bool {
	_, yes := cacheControl(h)["no-transform"]
	return yes
}

// noStore reports whether the answer forbids keeping it (5.2.2.5).
func noStore(h http.Header) bool {
	_, yes := cacheControl(h)["no-store"]
	return yes
}

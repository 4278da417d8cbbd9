package fetch

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// longestAge is what a delta-seconds that overflows means (RFC 9111, 1.2.2).
const longestAge = 2147483648 * time.Second

// directives are those of Cache-Control (RFC 9111, 5.2), in lower case with
// their values as written, quotes included: a quoted max-age is not a number.
type directives map[string][]string

func cacheControl(h http.Header) directives {
	out := directives{}
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

func (d directives) has(name string) bool { return len(d[name]) > 0 }

// seconds is the shortest of the values, the most restrictive (RFC 9111,
// 4.2.1). It is 0 when one is no whole number.
func (d directives) seconds(name string) time.Duration {
	least := longestAge
	for _, v := range d[name] {
		s, ok := deltaSeconds(v)
		if !ok {
			return 0
		}
		least = min(least, s)
	}
	return least
}

// noTransform reports whether the answer forbids changing the image (RFC 9111,
// 5.2.2.6).
func (d directives) noTransform() bool { return d.has("no-transform") }

// noStore reports whether the answer forbids keeping it (RFC 9111, 5.2.2.5).
// must-understand takes that back for a status whose rules are known here
// (5.2.2.3).
func (d directives) noStore(status int) bool {
	known := slices.Contains([]int{200, 204, 304, 404, 410}, status)
	return d.has("no-store") && !(d.has("must-understand") && known)
}

// private reports whether the whole answer is for one person (RFC 9111,
// 5.2.2.7). With field names it speaks of those fields alone.
func (d directives) private() bool {
	return slices.ContainsFunc(d["private"], func(v string) bool { return unquote(v) == "" })
}

// privateFields are the header fields that are for one person, in lower case.
func (d directives) privateFields() []string {
	var names []string
	for _, v := range d["private"] {
		for _, n := range strings.Split(unquote(v), ",") {
			names = append(names, strings.ToLower(strings.TrimSpace(n)))
		}
	}
	return names
}

func unquote(v string) string { return strings.TrimSpace(strings.Trim(v, `"`)) }

// staleIfError is how long past its freshness an answer may stand in when the
// source fails (RFC 5861, 4). may is false when it says nothing, or must never
// be used stale (RFC 9111, 4.2.4).
func (d directives) staleIfError(h http.Header) (extra time.Duration, may bool) {
	if !d.has("stale-if-error") || d.has("must-revalidate") || d.has("no-cache") || variesAlways(h) {
		return 0, false
	}
	extra = d.seconds("stale-if-error")
	return extra, extra > 0
}

// immutable reports whether the answer says that it will not change while it
// is fresh (RFC 8246, 2), and may be believed: only over TLS, and only when
// its length shows that it is whole (2.1).
func immutable(rep reply) bool {
	return rep.secure && rep.sized && rep.says.has("immutable")
}

// variesAlways reports whether no request is like another to the source
// (RFC 9111, 4.1: a Vary of "*" never matches).
func variesAlways(h http.Header) bool {
	for _, line := range h.Values("Vary") {
		for _, f := range strings.Split(line, ",") {
			if strings.TrimSpace(f) == "*" {
				return true
			}
		}
	}
	return false
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

// httpDate reads the three forms of RFC 9110, 5.6.7. A year of two digits that
// would be more than 50 years ahead means the past century.
func httpDate(text string, now time.Time) (time.Time, error) {
	at, err := http.ParseTime(text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is no HTTP date", text)
	}
	if _, err := time.Parse(time.RFC850, text); err != nil {
		return at, nil
	}
	at = at.AddDate((now.Year()/100-at.Year()/100)*100, 0, 0)
	if at.After(now.AddDate(50, 0, 0)) {
		at = at.AddDate(-100, 0, 0)
	}
	return at, nil
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

package httpcache

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Directives are those of Cache-Control (RFC 9111, 5.2): lower-case names with
// their values as sent, quotes included. A quoted max-age is not a number.
type Directives map[string][]string

// ParseDirectives reads every Cache-Control line of a header.
func ParseDirectives(h http.Header) Directives {
	out := Directives{}
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

// Has reports whether a directive is present, with or without a value.
func (d Directives) Has(name string) bool { return len(d[name]) > 0 }

// seconds is the shortest of the values, which is the most restrictive (RFC
// 9111, 4.2.1), and 0 if any is not a whole number.
func (d Directives) seconds(name string) time.Duration {
	least := longestAge
	for _, v := range d[name] {
		s, ok := Seconds(v)
		if !ok {
			return 0
		}
		least = min(least, s)
	}
	return least
}

// Private reports whether the whole response is for one user (RFC 9111,
// 5.2.2.7). With field names, private covers only those fields.
func (d Directives) Private() bool {
	return slices.ContainsFunc(d["private"], func(v string) bool { return unquote(v) == "" })
}

// privateFields are the lower-case names of the header fields for one user.
func (d Directives) privateFields() []string {
	var names []string
	for _, v := range d["private"] {
		for _, n := range strings.Split(unquote(v), ",") {
			names = append(names, strings.ToLower(strings.TrimSpace(n)))
		}
	}
	return names
}

func unquote(v string) string { return strings.TrimSpace(strings.Trim(v, `"`)) }

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

// longestAge stands for a delta-seconds that overflows (RFC 9111, 1.2.2).
const longestAge = 2147483648 * time.Second

// Seconds reads a delta-seconds (RFC 9111, 1.2.2): digits only. A number that
// is too large means 2^31 seconds.
func Seconds(s string) (time.Duration, bool) {
	if s == "" || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n > int64(longestAge/time.Second) {
		return longestAge, true
	}
	return time.Duration(n) * time.Second, true
}

// Date reads the three date formats of RFC 9110, 5.6.7. A two-digit year more
// than 50 years after now is in the past century.
func Date(text string, now time.Time) (time.Time, error) {
	at, err := http.ParseTime(text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is not an HTTP date", text)
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

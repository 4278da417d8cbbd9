package httpcache

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"
)

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

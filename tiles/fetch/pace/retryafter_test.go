package pace

import (
	"net/http"
	"testing"
	"time"
)

var day = time.Date(2026, 1, 5, 6, 0, 0, 0, time.UTC)

func headers(pairs ...string) http.Header {
	h := http.Header{}
	for i := 0; i < len(pairs); i += 2 {
		h.Add(pairs[i], pairs[i+1])
	}
	return h
}

func TestRetryAfter(t *testing.T) {
	cases := []struct {
		name string
		h    http.Header
		want time.Duration
		ok   bool
	}{
		{"seconds (RFC 9110 10.2.3)", headers("Retry-After", "120"), 2 * time.Minute, true},
		{"date against the answer's Date", headers("Retry-After", "Fri, 31 Dec 1999 23:59:59 GMT", "Date", "Fri, 31 Dec 1999 23:59:00 GMT"), 59 * time.Second, true},
		{"date against our clock", headers("Retry-After", day.Add(30*time.Second).Format(http.TimeFormat)), 30 * time.Second, true},
		{"date in the past", headers("Retry-After", day.Add(-time.Hour).Format(http.TimeFormat)), 0, true},
		{"now", headers("Retry-After", "0"), 0, true},
		{"none", nil, 0, false},
		{"words", headers("Retry-After", "soon"), 0, false},
		{"negative", headers("Retry-After", "-1"), 0, false},
		{"fraction", headers("Retry-After", "1.5"), 0, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got, ok := RetryAfter(c.h, day); got != c.want || ok != c.ok {
				t.Errorf("%v, %v, want %v, %v", got, ok, c.want, c.ok)
			}
		})
	}
}

// A wait is never negative, whatever the headers say.
func FuzzRetryAfter(f *testing.F) {
	f.Add(day.Format(http.TimeFormat), "120")
	f.Add("", "Fri, 31 Dec 1999 23:59:59 GMT")
	f.Fuzz(func(t *testing.T, date, retry string) {
		if d, ok := RetryAfter(headers("Date", date, "Retry-After", retry), day); d < 0 || !ok && d != 0 {
			t.Errorf("wait %v, %v", d, ok)
		}
	})
}

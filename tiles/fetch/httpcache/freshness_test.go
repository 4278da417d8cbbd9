package httpcache

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

func response(h http.Header, status int, received time.Time) Response {
	return Response{Status: status, Header: h, Control: ParseDirectives(h), Requested: day, Received: received}
}

// The values are worked out by hand from the rules of the sections named.
func TestFreshness(t *testing.T) {
	date := day.Format(http.TimeFormat)
	at := func(d time.Duration) string { return day.Add(d).Format(http.TimeFormat) }
	const hour = time.Hour
	cases := []struct {
		name    string
		h       http.Header
		status  int
		transit time.Duration // from request, at Date, to receipt
		want    time.Duration
	}{
		{"RFC 9111 4.2.3: Age and transit count", headers("Date", date, "Age", "100", "Cache-Control", "max-age=3600"), 200, 2 * time.Second, 3498 * time.Second},
		{"RFC 9111 4.2.2: a tenth since Last-Modified", headers("Date", date, "Last-Modified", at(-100*24*hour)), 200, 0, 864000 * time.Second},
		{"RFC 9111 5.3: max-age beats Expires", headers("Date", date, "Cache-Control", "max-age=60", "Expires", at(365*24*hour)), 200, 0, time.Minute},
		{"RFC 9111 5.3: Expires 0 is expired", headers("Date", date, "Expires", "0"), 200, 0, 0},
		{"RFC 9111 5.3: Expires 0 bars a guess", headers("Date", date, "Expires", "0", "Last-Modified", at(-100*24*hour)), 200, 0, 0},
		{"RFC 9111 4.2.1: quoted max-age is stale", headers("Date", date, "Cache-Control", `max-age="60"`), 200, 0, 0},
		{"RFC 9111 4.2.1: max-age of a fraction is stale", headers("Date", date, "Cache-Control", "max-age=1.5"), 200, 0, 0},
		{"RFC 9111 5.2.2.10: s-maxage is not for a private cache", headers("Date", date, "Cache-Control", "s-maxage=10, max-age=100"), 200, 0, 100 * time.Second},
		{"RFC 9111 4.2.1: Expires less Date", headers("Date", date, "Expires", at(2*hour)), 200, 0, 2 * hour},
		{"RFC 9111 4.2.1: Expires without Date, from receipt", headers("Expires", at(2*hour)), 200, 0, 2 * hour},
		{"RFC 9111 4.2.1: of two ages the shorter", headers("Date", date, "Cache-Control", "max-age=300", "Cache-Control", "max-age=60"), 200, 0, time.Minute},
		{"RFC 9111 1.2.2: overflow is 2^31 seconds", headers("Date", date, "Cache-Control", "max-age=99999999999999999999"), 200, 0, 2147483648 * time.Second},
		{"RFC 9111 5.2.2.4: no-cache", headers("Date", date, "Cache-Control", "max-age=60, no-cache"), 200, 0, 0},
		{"RFC 9111 5.2: names in any case, commas in quotes", headers("Date", date, "Cache-Control", `private="a, no-cache", Max-Age=60`), 200, 0, time.Minute},
		{"RFC 9111 5.1: first Age of a list", headers("Date", date, "Age", "10, 50", "Cache-Control", "max-age=60"), 200, 0, 50 * time.Second},
		{"RFC 9111 5.1: invalid Age is ignored", headers("Date", date, "Age", "-5", "Cache-Control", "max-age=60"), 200, 0, time.Minute},
		{"RFC 9111 4.2.3: apparent age", headers("Date", at(-hour), "Cache-Control", "max-age=7200"), 200, 0, hour},
		{"RFC 9111 4.2.3: Date ahead of our clock is age 0", headers("Date", at(hour), "Cache-Control", "max-age=60"), 200, 0, time.Minute},
		{"older than its lifetime: never negative", headers("Date", at(-hour), "Cache-Control", "max-age=60"), 200, 0, 0},
		{"RFC 9110 15.1: a guess for 404", headers("Date", date, "Last-Modified", at(-10*hour)), 404, 0, hour},
		{"RFC 9110 15.1: no guess for 500", headers("Date", date, "Last-Modified", at(-10*hour)), 500, 0, 0},
		{"Last-Modified in the future gives no guess", headers("Date", date, "Last-Modified", at(hour)), 200, 0, 0},
		{"nothing said", headers("Date", date), 200, 0, 0},
		{"no header at all", nil, 200, time.Second, 0},
		{"RFC 9110 5.6.7: RFC 850 and asctime dates", headers("Date", "Monday, 05-Jan-26 06:00:00 GMT", "Expires", "Mon Jan  5 07:00:00 2026"), 200, 0, hour},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := response(c.h, c.status, day.Add(c.transit)).Freshness(); got != c.want {
				t.Errorf("%v, want %v", got, c.want)
			}
		})
	}
}

// Freshness is never negative, whatever the headers say, and never exceeds
// max-age.
func FuzzFreshness(f *testing.F) {
	f.Add("max-age=60, private=\"a,b\"", "0", "5", day.Format(http.TimeFormat), "Sun, 06 Nov 1994 08:49:37 GMT")
	f.Add(`no-store, x="\"`, "Sunday, 06-Nov-94 08:49:37 GMT", "1, 2", "", "Sun Nov  6 08:49:37 1994")
	f.Fuzz(func(t *testing.T, cc, expires, age, date, modified string) {
		h := headers("Cache-Control", cc, "Age", age, "Date", date, "Last-Modified", modified)
		if expires != "" {
			h.Set("Expires", expires)
		}
		r := response(h, 200, day.Add(time.Second))
		got := r.Freshness()
		if got < 0 {
			t.Errorf("%v", got)
		}
		if d := r.Control; d.Has("max-age") && got > d.seconds("max-age") {
			t.Errorf("%v, beyond max-age %v", got, d["max-age"])
		}
	})
}

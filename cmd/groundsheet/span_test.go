package main

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/practice"
)

func TestSpan(t *testing.T) {
	for text, want := range map[string]time.Duration{"30m": 30 * time.Minute, "2h": 2 * time.Hour, "1h30m": 90 * time.Minute, "90 min": 90 * time.Minute, "1d": 24 * time.Hour, "1 h 5 m": 65 * time.Minute} {
		var s span
		if err := s.Set(text); err != nil || time.Duration(s) != want {
			t.Errorf("%s: %v, %v", text, time.Duration(s), err)
		}
	}
	for _, text := range []string{"", "30", "0m", "-2h", "soon"} {
		var s span
		if err := s.Set(text); err == nil || s != 0 {
			t.Errorf("%q is taken for %v", text, time.Duration(s))
		}
	}
}

// TestKeepTrying: a source that answers nothing for the first requests costs the
// run time, not its end, and that is said once.
func TestKeepTrying(t *testing.T) {
	o := newOffice(t)
	town := practice.New(practice.Options{BusyEvery: -1})
	down := time.Now().Add(6 * time.Second)
	server := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		if time.Now().Before(down) {
			if conn, _, err := rw.(http.Hijacker).Hijack(); err == nil {
				_ = conn.Close() // nothing was sent
			}
			return
		}
		town.ServeHTTP(rw, r)
	}))
	t.Cleanup(server.Close)
	o.source("town", server.URL+"/{z}/{x}/{y}.jpg", "")
	o.newJob("--source", "town")
	if code, _, err := o.do("pack", o.path("site"), "--keep-trying", "30"); code != exitUse || !strings.Contains(err, "30m") {
		t.Errorf("%d %s", code, err)
	}
	code, out, err := o.do("pack", o.path("site"), "--keep-trying", "30m")
	if code != 0 || strings.Count(err, "it is asked again, with growing pauses, until") != 1 {
		t.Errorf("%d %s%s", code, out, err)
	}
}

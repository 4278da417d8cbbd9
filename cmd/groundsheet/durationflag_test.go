package main

import (
	"fmt"
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

// TestKeepTrying: a source that answers nothing for the first seconds, not even
// with its document, costs the run time, not its end, and that is said once.
func TestKeepTrying(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	for _, c := range []struct {
		kind, path string
		down       time.Duration
	}{{"xyz", "/{z}/{x}/{y}.jpg", 6 * time.Second}, {"tilejson", "/town.json", time.Second}} {
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			o := newWorker(t)
			town := practice.New(practice.Options{BusyEvery: -1})
			answers := time.Now().Add(c.down)
			var server *httptest.Server
			server = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
				switch {
				case time.Now().Before(answers):
					if conn, _, err := rw.(http.Hijacker).Hijack(); err == nil {
						_ = conn.Close() // nothing was sent
					}
				case r.URL.Path == "/town.json":
					fmt.Fprintf(rw, `{"tilejson": "3.0.0", "tiles": ["%s/{z}/{x}/{y}.jpg"], "minzoom": 0, "maxzoom": 22}`, server.URL)
				default:
					town.ServeHTTP(rw, r)
				}
			}))
			t.Cleanup(server.Close)
			o.write("sources.toml", strings.Replace(sourceText("town", server.URL+c.path, ""), `"xyz"`, `"`+c.kind+`"`, 1))
			o.newJob("--source", "town")
			if code, _, err := o.do("pack", o.path("site"), "--keep-trying", "30"); code != exitUse || !strings.Contains(err, "30m") {
				t.Errorf("%d %s", code, err)
			}
			code, out, err := o.do("pack", o.path("site"), "--keep-trying", "30m")
			if code != 0 || strings.Count(err, "it is asked again, with growing pauses, until") != 1 {
				t.Errorf("%d %s%s", code, out, err)
			}
		})
	}
}

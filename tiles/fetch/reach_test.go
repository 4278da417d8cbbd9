package fetch_test

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

// The operator may name a host that redirects lead to.
func TestRedirectToANamedHost(t *testing.T) {
	other := serve(t, sends(plain))
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, other.URL+r.URL.Path, http.StatusFound)
	})
	src := h.fast()
	src.RedirectHosts = []string{strings.TrimPrefix(other.URL, "http://")}
	tally, err := run(src, shelf(t), row(4), quick())
	if err != nil || tally.New != 4 || other.requests() != 4 {
		t.Errorf("%+v, %v, %d at the other host", tally, err, other.requests())
	}
	src.RedirectHosts = []string{"127.0.0.1"} // the usual port is meant
	_, err = run(src, shelf(t), row(1), quick())
	stoppedFor(t, err, fetch.StopRedirect, "whose terms nobody stated", "redirect_hosts")
}

// The key is for the source alone, also where a redirect is allowed.
func TestKeyDoesNotFollowARedirect(t *testing.T) {
	t.Setenv("GS_COUNTY_KEY", "s3cret/Key+42")
	other := serve(t, sends(plain))
	var where atomic.Value
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, where.Load().(func(*http.Request) string)(r), http.StatusFound)
	})
	src := h.fast()
	src.URL, src.KeyEnv = h.URL+"/{z}/{x}/{y}?k={key}", "GS_COUNTY_KEY"
	src.RedirectHosts = []string{strings.TrimPrefix(other.URL, "http://")}
	where.Store(func(r *http.Request) string { return other.URL + r.URL.Path + "?" + r.URL.RawQuery })
	_, err := run(src, shelf(t), row(3), quick())
	stoppedFor(t, err, fetch.StopRedirect, "hands the key to it")
	if other.requests() != 0 || strings.Contains(err.Error(), "s3cret") {
		t.Errorf("%d requests at the other host, %v", other.requests(), err)
	}
	where.Store(func(r *http.Request) string { return other.URL + r.URL.Path })
	if tally, err := run(src, shelf(t), row(3), quick()); err != nil || tally.New != 3 {
		t.Errorf("without the key: %+v, %v", tally, err)
	}
}

// What began encrypted stays encrypted, also on a host that the operator named.
func TestRedirectNeverLeavesTLS(t *testing.T) {
	open := serve(t, sends(plain))
	secure := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, open.URL+r.URL.Path, http.StatusFound)
	}))
	defer secure.Close()
	src := open.fast()
	src.URL = secure.URL + "/{z}/{x}/{y}.png"
	src.RedirectHosts = []string{strings.TrimPrefix(open.URL, "http://")}
	o := quick()
	o.Client = secure.Client()
	_, err := run(src, shelf(t), row(3), o)
	stoppedFor(t, err, fetch.StopRedirect, "not encrypted")
	if open.requests() != 0 {
		t.Errorf("%d requests without TLS", open.requests())
	}
}

// A host that forbids offline use is refused even when the operator named it.
func TestForbiddenHostIsRefusedThoughNamed(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "https://tile.openstreetmap.org/1/2/3.png", http.StatusFound)
	})
	src := h.fast()
	src.RedirectHosts = []string{"tile.openstreetmap.org"}
	_, err := run(src, shelf(t), row(1), quick())
	if !errors.Is(err, source.Refused) {
		t.Errorf("%v, want a Refused", err)
	}
}

// HTTP/2 puts all requests on one connection: the terms hold for the requests
// on their way at once.
func TestHTTP2KeepsToTheConnections(t *testing.T) {
	var mu sync.Mutex
	busy, busiest, protocols := 0, 0, map[string]int{}
	s := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		busy++
		busiest = max(busiest, busy)
		protocols[r.Proto]++
		mu.Unlock()
		time.Sleep(10 * time.Millisecond)
		w.Write(plain)
		mu.Lock()
		busy--
		mu.Unlock()
	}))
	s.EnableHTTP2 = true
	s.StartTLS()
	defer s.Close()
	src := (&host0{s.URL}).source()
	src.Terms.Connections = 3
	o := quick()
	o.Client = s.Client()
	tally, err := run(src, shelf(t), row(60), o)
	if err != nil || tally.New != 60 || protocols["HTTP/2.0"] != 60 || busiest > 3 {
		t.Errorf("%+v, %v, protocols %v, %d at once", tally, err, protocols, busiest)
	}
}

// A source that is this computer itself is asked without a pace.
func TestUnpaced(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	src.Terms.RequestsPerSecond = 1
	o := quick()
	o.Unpaced = true
	began := time.Now()
	if tally, err := run(src, shelf(t), row(100), o); err != nil || tally.New != 100 || time.Since(began) > 20*time.Second {
		t.Errorf("%+v, %v after %v", tally, err, time.Since(began))
	}
}

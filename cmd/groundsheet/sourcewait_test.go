package main

import (
	"groundsheet/pack/office"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"groundsheet/pack/plan"
	"groundsheet/tiles/practice"
)

// TestTryLiftsAWait: a source that asked for ages of waiting is tried, and the
// wait goes when it answers well, not before.
func TestTryLiftsAWait(t *testing.T) {
	var shut atomic.Bool
	mux := http.NewServeMux()
	mux.Handle("/{z}/{x}/{y}", practice.New(practice.Options{BusyEvery: -1}))
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if shut.Load() {
			w.Header().Set("Retry-After", "99999999999999999999")
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	o := newWorker(t)
	o.source("town", server.URL+"/{z}/{x}/{y}.jpg", "")
	o.newJob()
	try := []string{"source", "try", "town", "--at", "40.5,-140.5", "--zoom", "18"}
	if out := o.must(0, try...); strings.Contains(out, "wait:") {
		t.Errorf("nobody has to wait:\n%s", out)
	}
	shut.Store(true)
	code, _, err := o.do("pack", o.path("site"))
	if code != exitOutside || !strings.Contains(err, "1 d of it is kept to") || !strings.Contains(err, "groundsheet source try town") {
		t.Fatalf("%d %s", code, err)
	}
	if out := o.must(0, "store", "show"); !strings.Contains(out, "groundsheet source try town lifts that") {
		t.Errorf("the store shows no wait:\n%s", out)
	}
	if code, out, _ := o.do(try...); code != exitOutside || !strings.Contains(out, "wait: left as it is") {
		t.Errorf("%d %s", code, out)
	}
	shut.Store(false)
	if code, _, err := o.do("pack", o.path("site")); code != exitOutside || !strings.Contains(err, "asked a run before to wait") {
		t.Errorf("a wait that nobody lifted: %d %s", code, err)
	}
	var d office.StoreReport
	decode(t, o.must(0, "store", "show", "--json"), &d)
	if len(d.Sources) != 1 || d.Sources[0].WaitsUntil == nil {
		t.Errorf("%+v", d.Sources)
	}
	if out := o.must(0, try...); !strings.Contains(out, "runs do not ask it before") || !strings.Contains(out, "wait: lifted") {
		t.Errorf("%s", out)
	}
	if out := o.must(0, "store", "show"); strings.Contains(out, "wait until") {
		t.Errorf("%s", out)
	}
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	var plan plan.Document
	decode(t, o.must(0, "plan", o.path("site"), "--json"), &plan)
	if p.Tiles != plan.Tiles || plan.Fetch != 0 {
		t.Errorf("%+v", p)
	}
}

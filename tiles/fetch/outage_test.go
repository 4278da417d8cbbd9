package fetch_test

import (
	"errors"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
)

// failing answers so many requests, fails so many, and answers again; how it
// fails is for fail to say.
func failing(t *testing.T, good, bad int32, fail http.HandlerFunc) *host {
	var n atomic.Int32
	return serve(t, func(w http.ResponseWriter, r *http.Request) {
		if k := n.Add(1); k > good && k <= good+bad {
			fail(w, r)
			return
		}
		w.Write(plain)
	})
}

func drop(w http.ResponseWriter, _ *http.Request) {
	if conn, _, err := w.(http.Hijacker).Hijack(); err == nil {
		conn.Close()
	}
}

// A source that fails for longer than a run stands is waited for, which is said
// once, and everything arrives. Without the option the run ends as ever.
func TestKeepTrying(t *testing.T) {
	unavailable := func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(503) }
	for _, c := range []struct {
		name string
		fail http.HandlerFunc
		good int32
	}{{"dropped from the first", drop, 0}, {"dropped in the middle", drop, 100}, {"503", unavailable, 100}} {
		t.Run(c.name, func(t *testing.T) {
			h := failing(t, c.good, 24, c.fail)
			if _, err := run(h.fast(), shelf(t), row(200), quick()); err == nil {
				t.Fatal("the run stood it without the option: the test proves nothing")
			}
			h = failing(t, c.good, 24, c.fail)
			o := quick()
			o.KeepTrying = time.Minute
			told := 0
			o.Trying = func(until time.Time, why string) {
				told++
				if d := time.Until(until); d < 50*time.Second || d > time.Minute || why == "" {
					t.Errorf("told %v, %q", d, why)
				}
			}
			s := shelf(t)
			done := make(chan struct{})
			time.AfterFunc(30*time.Second, func() {
				select {
				case <-done:
				default:
					t.Error("it waits too long")
					h.CloseClientConnections()
				}
			})
			o.Backoff = 20 * time.Microsecond // pauses of 0.2 ms and more
			tally, err := run(h.fast(), s, row(200), o)
			close(done)
			if err != nil || tally.New != 200 || tally.Failed != 0 || tally.Wanted != 200 || told != 1 {
				t.Errorf("%+v, %v, told %d times", tally, err, told)
			}
		})
	}
}

// What is done before a run is kept at in the same way.
func TestRetry(t *testing.T) {
	o := quick()
	o.KeepTrying = time.Minute
	told, tries := 0, 0
	o.Trying = func(time.Time, string) { told++ }
	do := func(until int, outage bool) error {
		told, tries = 0, 0
		return fetch.Retry(t.Context(), o, func() (bool, error) {
			if tries++; tries < until {
				return outage, errors.New("no answer")
			}
			return false, nil
		})
	}
	if err := do(4, true); err != nil || tries != 4 || told != 1 {
		t.Errorf("%v after %d tries, told %d times", err, tries, told)
	}
	if err := do(4, false); err == nil || tries != 1 || told != 0 {
		t.Errorf("no outage: %v after %d tries", err, tries)
	}
	o.KeepTrying = 0
	if err := do(4, true); err == nil || tries != 1 {
		t.Errorf("not told to: %v after %d tries", err, tries)
	}
}

// When the time is over, the run ends for the reason that it had before.
func TestKeepTryingEnds(t *testing.T) {
	h := serve(t, sends(plain))
	src := h.fast()
	h.Close() // nobody is there
	o := quick()
	o.KeepTrying = 300 * time.Millisecond
	began := time.Now()
	_, err := run(src, shelf(t), row(20), o)
	stoppedFor(t, err, fetch.StopUnreachable, "cannot be reached", "tried for")
	if d := time.Since(began); d < 300*time.Millisecond || d > 10*time.Second {
		t.Errorf("it ended after %v", d)
	}
}

// One tile that always fails keeps no other from coming; it is tried until the
// time is over, and named.
func TestKeepTryingOneTile(t *testing.T) {
	var bad atomic.Int32
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/20/5/") {
			bad.Add(1)
			w.WriteHeader(502)
			return
		}
		w.Write(plain)
	})
	o := quick()
	o.KeepTrying = 500 * time.Millisecond
	tally, err := run(h.fast(), shelf(t), row(40), o)
	var inc *fetch.Incomplete
	if !errors.As(err, &inc) || inc.Failed != 1 || tally.New != 39 || bad.Load() < 5 {
		t.Errorf("%+v, %v, asked %d times", tally, err, bad.Load())
	}
}

// What asking again would not help ends as ever: it is no failing source.
func TestKeepTryingIsForFailures(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(403) })
	o := quick()
	o.KeepTrying = time.Hour
	_, err := run(h.fast(), shelf(t), row(5), o)
	stoppedFor(t, err, fetch.StopRejected)
}

// One worker looks whether the source answers again, and pauses grow.
func TestKeepTryingIsGentle(t *testing.T) {
	h := serve(t, drop)
	o := quick()
	o.Backoff, o.KeepTrying = 5*time.Millisecond, 2*time.Second // pauses of 50, 100, 200 … ms
	_, err := run(h.fast(), shelf(t), row(200), o)
	if err == nil || h.requests() > 4*4+10+20 {
		t.Errorf("%v after %d requests", err, h.requests())
	}
}

package fetch_test

import (
	"net/http"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/store"
)

// waitingUntil is the wait of the shelf as people are told it.
func waitingUntil(t *testing.T, s store.Shelf) time.Time {
	t.Helper()
	until, err := fetch.Waiting(t.Context(), s, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	return until
}

func leave(t *testing.T, s store.Shelf, p store.RateState) {
	t.Helper()
	turn, err := s.Lease(t.Context(), nil)
	if err == nil {
		err = turn.Release(t.Context(), p)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// Whatever a source asks, its word is kept for a day at most.
func TestWaitIsADayAtMost(t *testing.T) {
	for _, c := range []struct{ asks, says string }{
		{"99999999999999999999", "asks to wait 68"},
		{"Fri, 31 Dec 9999 23:59:59 GMT", "asks to wait 292"},
		{"86401", "asks to wait 1 d; no more than 1 d of it is kept to"},
		{"86400", "asks to wait 1 d, until"},
	} {
		h := serve(t, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Retry-After", c.asks)
			w.WriteHeader(503)
		})
		s := shelf(t)
		_, err := run(h.fast(), s, row(3), quick())
		stoppedFor(t, err, fetch.StopWait, c.says)
		if d := time.Until(waitingUntil(t, s)); d > 24*time.Hour || d < 24*time.Hour-time.Minute {
			t.Errorf("%s: kept for %v", c.asks, d)
		}
	}
}

// A wait for decades that lies in a store is one of a day, and each run brings
// its end nearer.
func TestStoredWaitIsCapped(t *testing.T) {
	h := serve(t, sends(plain))
	s := shelf(t)
	leave(t, s, store.RateState{Until: time.Date(2094, 12, 1, 0, 0, 0, 0, time.UTC)})
	if d := time.Until(waitingUntil(t, s)); d > 24*time.Hour {
		t.Errorf("seen as %v", d)
	}
	_, err := run(h.fast(), s, row(3), quick())
	stoppedFor(t, err, fetch.StopWait, "asked a run before to wait, 1 d more", "groundsheet source try county")
	first := waitingUntil(t, s)
	time.Sleep(20 * time.Millisecond)
	_, err = run(h.fast(), s, row(3), quick())
	stoppedFor(t, err, fetch.StopWait)
	if next := waitingUntil(t, s); !next.Equal(first) || h.requests() != 0 {
		t.Errorf("until %v, then %v; %d requests", first, next, h.requests())
	}
}

// After a long wait one tile is asked alone until one is answered.
func TestOneTileAfterALongWait(t *testing.T) {
	var bad atomic.Int32
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(30 * time.Millisecond)
		if bad.Add(-1) >= 0 {
			w.WriteHeader(500)
			return
		}
		w.Write(plain)
	})
	for _, c := range []struct {
		name  string
		until time.Duration
		fails int32
		alone int
	}{{"answers at once", -time.Minute, 0, 1}, {"fails twice first", -time.Minute, 2, 3}, {"no wait before", 0, 0, 0}} {
		t.Run(c.name, func(t *testing.T) {
			s := shelf(t)
			p := store.RateState{}
			if c.until != 0 {
				p.Until = time.Now().Add(c.until)
			}
			leave(t, s, p)
			h.mu.Lock()
			h.at, h.busiest = nil, 0
			h.mu.Unlock()
			bad.Store(c.fails)
			if tally, err := run(h.fast(), s, row(12), quick()); err != nil || tally.New != 12 {
				t.Fatalf("%+v, %v", tally, err)
			}
			alone := 0
			for i := 1; i < len(h.at) && h.at[i].Sub(h.at[i-1]) >= 30*time.Millisecond; i++ {
				alone++
			}
			if alone < c.alone || c.alone == 0 && alone > 0 || h.busiest < 2 {
				t.Errorf("%d requests alone, want %d; at most %d at once", alone, c.alone, h.busiest)
			}
		})
	}
}

// A source that asks to wait again in answer to the one tile gets no other.
func TestStillShutAfterALongWait(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(50 * time.Millisecond)
		w.Header().Set("Retry-After", "7200")
		w.WriteHeader(429)
	})
	s := shelf(t)
	leave(t, s, store.RateState{Until: time.Now().Add(-time.Second)})
	_, err := run(h.fast(), s, row(12), quick())
	stoppedFor(t, err, fetch.StopWait, "asks to wait 2 h")
	if h.requests() != 1 {
		t.Errorf("%d requests", h.requests())
	}
}

// A wait is lifted by whoever saw the source answer, but not under a run.
func TestEndWait(t *testing.T) {
	h := serve(t, sends(plain))
	s := shelf(t)
	until := time.Now().Add(5 * time.Hour)
	leave(t, s, store.RateState{Until: until, Share: 0.5})
	turn, err := s.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if lifted, err := fetch.EndWait(t.Context(), s); lifted || err != nil {
		t.Errorf("under a run: %v, %v", lifted, err)
	}
	if err := turn.Release(t.Context(), store.RateState{Until: until, Share: 0.5}); err != nil {
		t.Fatal(err)
	}
	if lifted, err := fetch.EndWait(t.Context(), s); !lifted || err != nil {
		t.Fatalf("%v, %v", lifted, err)
	}
	if at := waitingUntil(t, s); !at.IsZero() {
		t.Errorf("waits until %v", at)
	}
	turn, err = s.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if p, ok := turn.RateState(); !ok || p.Share != 0.5 || len(p.Left) != 1 {
		t.Errorf("%+v, %v: the slower pace stays, and the request counts", p, ok)
	}
	_ = turn.Release(t.Context(), store.RateState{})
	if tally, err := run(h.fast(), s, row(3), quick()); err != nil || tally.New != 3 {
		t.Errorf("%+v, %v", tally, err)
	}
}

package storetest

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/store"
)

func turnCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"one at a time":            oneAtATime,
		"waiting is told once":     waitingTold,
		"whoever waits is wanted":  wanted,
		"two alternate":            alternate,
		"each shelf has its own":   leasesApart,
		"released it is over":      released,
		"a canceled context":       turnCancelled,
		"its end does not need it": releaseCancelled,
	}
}

func take(t *testing.T, s store.Writer) store.Lease {
	t.Helper()
	lease, err := s.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return lease
}

func release(t *testing.T, lease store.Lease, p store.RateState) {
	t.Helper()
	if err := lease.Release(t.Context(), p); err != nil {
		t.Fatal(err)
	}
}

// soon waits until something is so, for as long as a slow machine may take.
func soon(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("30 s have passed and still not: %s", what)
		}
	}
}

// oneAtATime has runs in this process and in others take turns.
func oneAtATime(t *testing.T, o Suite) {
	st := o.Open(t)
	var inside, most, done atomic.Int32
	var all sync.WaitGroup
	for i := range 5 {
		if i%2 == 1 {
			st = o.Again(t, st)
		}
		s := shelfOf(t, st, "town")
		all.Go(func() {
			for range 3 {
				lease, err := s.Lease(t.Context(), nil)
				if err != nil {
					t.Error(err)
					return
				}
				if n := inside.Add(1); n > most.Load() {
					most.Store(n)
				}
				time.Sleep(5 * time.Millisecond)
				inside.Add(-1)
				if err := lease.Release(t.Context(), store.RateState{}); err != nil {
					t.Error(err)
				}
				done.Add(1)
			}
		})
	}
	all.Wait()
	if most.Load() != 1 || done.Load() != 15 {
		t.Errorf("%d at once, %d of 15 leases", most.Load(), done.Load())
	}
}

func waitingTold(t *testing.T, o Suite) {
	st := o.Open(t)
	first, err := shelfOf(t, st, "town").Lease(t.Context(), func() { t.Error("nobody is there to wait for") })
	if err != nil {
		t.Fatal(err)
	}
	short, cancel := context.WithTimeout(t.Context(), 500*time.Millisecond)
	defer cancel()
	told := 0
	if _, err := shelfOf(t, o.Again(t, st), "town").Lease(short, func() { told++ }); !errors.Is(err, context.DeadlineExceeded) || told != 1 {
		t.Fatalf("two runs at once: %v, told %d times", err, told)
	}
	release(t, first, store.RateState{})
	release(t, take(t, shelfOf(t, st, "town")), store.RateState{})
}

func wanted(t *testing.T, o Suite) {
	st := o.Open(t)
	first := take(t, shelfOf(t, st, "town"))
	is := func() bool {
		w, err := first.Wanted(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	if is() {
		t.Error("wanted by nobody")
	}
	other := shelfOf(t, o.Again(t, st), "town")
	ctx, cancel := context.WithCancel(t.Context())
	got := make(chan error, 1)
	wait := func() { _, err := other.Lease(ctx, nil); got <- err }
	go wait()
	soon(t, "wanted by the other", is)
	cancel()
	if err := <-got; !errors.Is(err, context.Canceled) {
		t.Errorf("stopped waiting: %v", err)
	}
	soon(t, "wanted by nobody any more", func() bool { return !is() })
	release(t, first, store.RateState{})
}

// alternate: one that hands over and wants the lease again lets the other go
// first.
func alternate(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b := shelfOf(t, st, "town"), shelfOf(t, o.Again(t, st), "town")
	mine := take(t, a)
	got := make(chan store.Lease, 1)
	go func() {
		lease, err := b.Lease(t.Context(), nil)
		if err != nil {
			t.Error(err)
		}
		got <- lease
	}()
	soon(t, "wanted", func() bool { w, err := mine.Wanted(t.Context()); return w && err == nil })
	release(t, mine, store.RateState{})
	again := make(chan store.Lease, 1)
	go func() {
		lease, err := a.Lease(t.Context(), nil)
		if err != nil {
			t.Error(err)
		}
		again <- lease
	}()
	select {
	case theirs := <-got:
		soon(t, "the first is next", func() bool { w, err := theirs.Wanted(t.Context()); return w && err == nil })
		release(t, theirs, store.RateState{})
	case <-again:
		t.Fatal("the run that handed over was faster than the one that waited")
	}
	release(t, <-again, store.RateState{})
}

func leasesApart(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b := take(t, shelfOf(t, st, "a")), take(t, shelfOf(t, st, "b"))
	release(t, a, store.RateState{})
	release(t, b, store.RateState{})
}

func released(t *testing.T, o Suite) {
	st := o.Open(t)
	first := take(t, shelfOf(t, st, "town"))
	release(t, first, store.RateState{})
	second, err := shelfOf(t, o.Again(t, st), "town").Lease(t.Context(), func() { t.Error("a released lease holds others up") })
	if err != nil {
		t.Fatal(err)
	}
	release(t, second, store.RateState{})
}

func turnCancelled(t *testing.T, o Suite) {
	s := o.shelf(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Lease(ctx, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
	release(t, take(t, s), store.RateState{})
}

// A run that is told to stop still hands over.
func releaseCancelled(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := lease.Release(ctx, store.RateState{Share: 0.5}); err != nil {
		t.Fatal(err)
	}
	next := take(t, s)
	if p, ok := next.RateState(); !ok || p.Share != 0.5 {
		t.Errorf("%+v, %v", p, ok)
	}
	release(t, next, store.RateState{})
}

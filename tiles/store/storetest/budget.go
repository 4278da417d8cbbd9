package storetest

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"

	"groundsheet/tiles/store"
)

const today, tomorrow = "2026-11-25", "2026-11-26"

func budgetCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"what is left is granted":   spend,
		"days are apart":            daysApart,
		"sources are apart":         sourcesApart,
		"many at once":              spendAtOnce,
		"runs share it":             spendInTurns,
		"a canceled context":        spendCancelled,
		"nobody spends after a run": spendReleased,
	}
}

func grant(t *testing.T, lease store.Lease, day string, n, limit, want int) {
	t.Helper()
	if got, err := lease.Spend(t.Context(), day, n, limit); err != nil || got != want {
		t.Errorf("asked for %d of %d on %s: got %d, %v, want %d", n, limit, day, got, err, want)
	}
}

func spent(t *testing.T, s store.Reader, day string, want int) {
	t.Helper()
	if got, err := s.Spent(t.Context(), day); err != nil || got != want {
		t.Errorf("%d spent on %s, %v, want %d", got, day, err, want)
	}
}

func giveUp(t *testing.T, lease store.Lease, day string, n int) {
	t.Helper()
	if err := lease.Unspend(t.Context(), day, n); err != nil {
		t.Fatal(err)
	}
}

func spend(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	grant(t, lease, today, 60, 100, 60)
	grant(t, lease, today, 60, 100, 40)
	grant(t, lease, today, 60, 100, 0)
	spent(t, s, today, 100)
	giveUp(t, lease, today, 25)
	spent(t, s, today, 75)
	grant(t, lease, today, 60, 100, 25)
	grant(t, lease, today, 5, 50, 0) // the operator lowered the limit
	grant(t, lease, today, 7, 0, 7)  // there is none, counted too
	spent(t, s, today, 107)
	grant(t, lease, today, 0, 1000, 0)
	giveUp(t, lease, today, 500) // never below nothing
	spent(t, s, today, 0)
	giveUp(t, lease, "2026-01-01", 5)
	spent(t, s, "2026-01-01", 0)
	release(t, lease, store.RateState{})
}

func daysApart(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	grant(t, lease, today, 10, 10, 10)
	grant(t, lease, tomorrow, 4, 10, 4)
	grant(t, lease, today, 1, 10, 0)
	spent(t, s, today, 10)
	spent(t, s, tomorrow, 4)
	release(t, lease, store.RateState{})
}

func sourcesApart(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b := take(t, shelfOf(t, st, "a")), take(t, shelfOf(t, st, "b"))
	grant(t, a, today, 10, 10, 10)
	grant(t, b, today, 10, 10, 10)
	spent(t, shelfOf(t, st, "a"), today, 10)
	release(t, a, store.RateState{})
	release(t, b, store.RateState{})
}

// spendAtOnce: the workers of a run ask at the same time.
func spendAtOnce(t *testing.T, o Suite) {
	const limit = 100
	s := o.shelf(t)
	lease := take(t, s)
	var got atomic.Int64
	var all sync.WaitGroup
	for range 12 {
		all.Go(func() {
			for range 10 {
				n, err := lease.Spend(t.Context(), today, 3, limit)
				if err != nil || n < 0 || n > 3 {
					t.Errorf("got %d, %v", n, err)
				}
				got.Add(int64(n))
			}
		})
	}
	all.Wait()
	if got.Load() != limit {
		t.Errorf("%d were granted of %d", got.Load(), limit)
	}
	spent(t, s, today, limit)
	release(t, lease, store.RateState{})
}

// spendInTurns: runs with stores of their own share one budget, with no more
// than their leases to keep them apart.
func spendInTurns(t *testing.T, o Suite) {
	const limit, runs = 200, 5
	st := o.Open(t)
	var got atomic.Int64
	var all sync.WaitGroup
	for range runs {
		s := shelfOf(t, o.Again(t, st), "town")
		all.Go(func() {
			for range 3 {
				lease, err := s.Lease(t.Context(), nil)
				if err != nil {
					t.Error(err)
					return
				}
				for range 4 {
					n, err := lease.Spend(t.Context(), today, 7, limit)
					if err != nil {
						t.Error(err)
					}
					got.Add(int64(n))
				}
				if err := lease.Release(t.Context(), store.RateState{}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if got.Load() != limit {
		t.Errorf("%d were granted of %d, when %d were asked for", got.Load(), limit, runs*3*4*7)
	}
	spent(t, shelfOf(t, st, "town"), today, limit)
}

func spendCancelled(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if n, err := lease.Spend(ctx, today, 5, 10); n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("got %d, %v", n, err)
	}
	grant(t, lease, today, 20, 10, 10) // nothing was taken, and the lease is still there
	release(t, lease, store.RateState{})
}

func spendReleased(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	release(t, lease, store.RateState{})
	if n, err := lease.Spend(t.Context(), today, 5, 10); n != 0 || err == nil {
		t.Errorf("got %d, %v after the lease was handed over", n, err)
	}
	spent(t, s, today, 0)
}

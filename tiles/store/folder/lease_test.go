package folder

import (
	"context"
	"errors"
	"testing"
	"time"

	"groundsheet/tiles/store"
)

// another is the same shelf in a store of its own, as another process has it.
func another(t *testing.T, dir string) *Shelf {
	t.Helper()
	_, s := open(t, dir)
	return s
}

// TestTurn: a second run waits for the first, may stop waiting, is seen by the
// first, and takes over what the first knows.
func TestTurn(t *testing.T) {
	dir := t.TempDir()
	first, err := another(t, dir).Lease(t.Context(), func() { t.Error("nobody is there to wait for") })
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := first.RateState(); !ok {
		t.Error("a shelf that nobody used has nothing to be afraid of")
	}
	if wanted, err := first.Wanted(t.Context()); wanted || err != nil {
		t.Errorf("nobody waits: %v, %v", wanted, err)
	}
	short, cancel := context.WithTimeout(t.Context(), 400*time.Millisecond)
	defer cancel()
	waited := 0
	if _, err := another(t, dir).Lease(short, func() { waited++ }); !errors.Is(err, context.DeadlineExceeded) || waited != 1 {
		t.Fatalf("two runs at once: %v, told %d times", err, waited)
	}
	got := make(chan store.Lease)
	go func() {
		second, err := another(t, dir).Lease(t.Context(), nil)
		if err != nil {
			t.Error(err)
		}
		got <- second
	}()
	for wanted := false; !wanted; time.Sleep(10 * time.Millisecond) {
		if wanted, err = first.Wanted(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	left := store.RateState{Left: []time.Time{time.UnixMilli(1).UTC(), time.UnixMilli(2).UTC()}, Share: 0.5}
	if err := first.Release(t.Context(), left); err != nil {
		t.Fatal(err)
	}
	second := <-got
	if p, ok := second.RateState(); !ok || len(p.Left) != 2 || !p.Left[1].Equal(left.Left[1]) || p.Share != 0.5 {
		t.Errorf("handed over %+v, %v", p, ok)
	}
	// It ends without handing over.
	if err := second.(*lease).lock.free(); err != nil {
		t.Fatal(err)
	}
	third, err := another(t, dir).Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer third.Release(t.Context(), store.RateState{})
	if _, ok := third.RateState(); !ok {
		t.Log("the shelf holds nothing and nothing was spent: nothing to be afraid of")
	}
	keep(t, another(t, dir), hole(0, 0, 0))
	if err := third.(*lease).load(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, ok := third.RateState(); ok {
		t.Error("nothing was handed over, and it counts as known")
	}
}

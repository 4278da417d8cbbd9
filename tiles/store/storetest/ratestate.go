package storetest

import (
	"testing"
	"time"

	"groundsheet/tiles/store"
)

func paceCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"the first run finds a clean slate":    firstPace,
		"what is handed over arrives":          paceArrives,
		"without a pause there is none":        noPause,
		"a run that did not hand over":         notHanded,
		"what was handed over counts but once": handedOnce,
		"a pause can be seen from outside":     pauseSeen,
		"a pause that is over arrives":         pauseOver,
	}
}

func firstPace(t *testing.T, o Suite) {
	lease := take(t, o.shelf(t))
	if p, ok := lease.RateState(); !ok || len(p.Left) != 0 || !p.Until.IsZero() || p.Share != 0 {
		t.Errorf("%+v, %v: nobody was there before", p, ok)
	}
	release(t, lease, store.RateState{})
}

// paceArrives: times arrive to the millisecond. A store on another computer
// may make them later by no more than handing over took, never earlier.
func paceArrives(t *testing.T, o Suite) {
	st := o.Open(t)
	lease := take(t, shelfOf(t, st, "town"))
	now := time.Now()
	want := store.RateState{Left: []time.Time{now.Add(-3 * time.Second), now.Add(-250 * time.Millisecond), now}, Until: now.Add(90 * time.Second), Share: 0.25}
	began := time.Now()
	release(t, lease, want)
	next := take(t, shelfOf(t, o.Again(t, st), "town"))
	took := time.Since(began)
	got, ok := next.RateState()
	if !ok || len(got.Left) != len(want.Left) || got.Share != want.Share {
		t.Fatalf("%+v, %v", got, ok)
	}
	near := func(what string, got, want time.Time) {
		t.Helper()
		if d := got.Sub(want); d < -time.Millisecond || d > took+time.Millisecond {
			t.Errorf("%s is off by %v; handing over took %v", what, d, took)
		}
	}
	for i, at := range got.Left {
		near("a request", at, want.Left[i])
	}
	near("the pause", got.Until, want.Until)
	release(t, next, store.RateState{})
}

func noPause(t *testing.T, o Suite) {
	s := o.shelf(t)
	lease := take(t, s)
	release(t, lease, store.RateState{Left: []time.Time{time.Now()}})
	next := take(t, s)
	if p, ok := next.RateState(); !ok || !p.Until.IsZero() || p.Share != 0 || len(p.Left) != 1 {
		t.Errorf("%+v, %v", p, ok)
	}
	release(t, next, store.RateState{})
}

// notHanded: the store of a run is closed under it, as when its process ends.
func notHanded(t *testing.T, o Suite) {
	st := o.Open(t)
	keep(t, shelfOf(t, st, "town"), hole(0, 0, 0))
	release(t, take(t, shelfOf(t, st, "town")), store.RateState{Share: 0.25}) // the run before it did
	lease := take(t, shelfOf(t, st, "town"))
	other := o.Again(t, st)
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	_ = lease.Release(t.Context(), store.RateState{Share: 0.5}) // the store is closed: nothing is handed over
	next := take(t, shelfOf(t, other, "town"))
	if p, ok := next.RateState(); ok {
		t.Errorf("%+v was handed over by a run that could not", p)
	}
	release(t, next, store.RateState{Share: 0.75})
	last := take(t, shelfOf(t, other, "town"))
	if p, ok := last.RateState(); !ok || p.Share != 0.75 {
		t.Errorf("the run after it: %+v, %v", p, ok)
	}
	release(t, last, store.RateState{})
}

func handedOnce(t *testing.T, o Suite) {
	s := o.shelf(t)
	release(t, take(t, s), store.RateState{Share: 0.5, Left: []time.Time{time.Now()}})
	second := take(t, s)
	release(t, second, store.RateState{})
	third := take(t, s)
	if p, ok := third.RateState(); !ok || p.Share != 0 || len(p.Left) != 0 {
		t.Errorf("%+v, %v: the second run handed over nothing of that", p, ok)
	}
	release(t, third, store.RateState{})
}

// pauseSeen: looking at a pause takes nothing away, and a run that has the lease
// has taken it over.
func pauseSeen(t *testing.T, o Suite) {
	st := o.Open(t)
	s, other := shelfOf(t, st, "town"), shelfOf(t, o.Again(t, st), "town")
	pause := func(what string, want time.Time) {
		t.Helper()
		got, err := other.Pause(t.Context())
		if err != nil || got.IsZero() != want.IsZero() || got.Sub(want).Abs() > 5*time.Second {
			t.Errorf("%s: %v, %v, want %v", what, got, err, want)
		}
	}
	pause("before any run", time.Time{})
	lease := take(t, s)
	pause("during the first run", time.Time{})
	until := time.Now().Add(68 * 365 * 24 * time.Hour)
	release(t, lease, store.RateState{Until: until, Share: 0.5})
	pause("after it", until)
	pause("looked at again", until)
	lease = take(t, s)
	if p, ok := lease.RateState(); !ok || p.Until.Sub(until).Abs() > 5*time.Second || p.Share != 0.5 {
		t.Errorf("%+v, %v: looking took something away", p, ok)
	}
	pause("during the second run", time.Time{})
	release(t, lease, store.RateState{Share: 0.5})
	pause("after a run without one", time.Time{})
}

func pauseOver(t *testing.T, o Suite) {
	s := o.shelf(t)
	until := time.Now().Add(-time.Hour)
	release(t, take(t, s), store.RateState{Until: until})
	if got, err := s.Pause(t.Context()); err != nil || got.Sub(until).Abs() > 5*time.Second {
		t.Errorf("%v, %v, want %v", got, err, until)
	}
	lease := take(t, s)
	if p, ok := lease.RateState(); !ok || p.Until.Sub(until).Abs() > 5*time.Second {
		t.Errorf("%+v, %v, want until %v", p, ok, until)
	}
	release(t, lease, store.RateState{})
}

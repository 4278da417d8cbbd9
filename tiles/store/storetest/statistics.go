package storetest

import (
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func surveyCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"what each zoom holds":      measured,
		"how fast the source is":    perSecond,
		"asking makes nothing":      askingMakesNothing,
		"shelves that were written": shelvesWritten,
	}
}

func measured(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(3, 1, 1, 1, 100), image(3, 1, 2, 2, 200), image(3, 1, 3, 2, 200), hole(3, 2, 2), hole(7, 0, 0))
	m, err := s.Measured(t.Context())
	if err != nil || len(m) != 2 || m[3] != (store.Measure{Tiles: 3, Holes: 1, MeanBytes: 500.0 / 3}) || m[7] != (store.Measure{Holes: 1}) {
		t.Errorf("%v, %v", m, err)
	}
}

func perSecond(t *testing.T, o Suite) {
	s := o.shelf(t)
	timed := func(n int, took time.Duration) {
		t.Helper()
		if err := s.Timed(t.Context(), n, took); err != nil {
			t.Fatal(err)
		}
	}
	rate := func(want float64) {
		t.Helper()
		if got, err := s.PerSecond(t.Context()); err != nil || got != want {
			t.Errorf("%v a second, %v, want %v", got, err, want)
		}
	}
	rate(0)
	timed(3, time.Hour) // too short to count
	rate(0)
	timed(100, 10*time.Second)
	timed(300, 10*time.Second)
	rate(20)
	for range 30 {
		timed(100, 2*time.Second)
	}
	rate(50) // only the latest runs count
}

// askingMakesNothing also asks on a shelf that was never written.
func askingMakesNothing(t *testing.T, o Suite) {
	st := o.Open(t)
	s := shelfOf(t, st, "never")
	ctx := t.Context()
	if n := len(within(t, s, row(3, 1, 0, 7), true)) + len(everything(t, s, true)); n != 0 {
		t.Errorf("%d records", n)
	}
	if _, ok := held(t, s, tiles.ID{}); ok {
		t.Error("a tile is held")
	}
	if m, err := s.Measured(ctx); err != nil || m == nil || len(m) != 0 {
		t.Errorf("Measured: %v, %v", m, err)
	}
	if z := size(t, s); z != (store.Size{}) {
		t.Errorf("Size: %+v", z)
	}
	spent, spentErr := s.Spent(ctx, "2026-11-25")
	given, givenErr := s.GiveBack(ctx)
	orphans, orphansErr := s.Orphans(ctx, true)
	flaws, flawsErr := s.Sound(ctx)
	if spentErr != nil || givenErr != nil || orphansErr != nil || flawsErr != nil || spent != 0 || given != 0 || orphans != 0 || len(flaws) != 0 {
		t.Errorf("Spent %d, %v; GiveBack %d, %v; Orphans %d, %v; Sound %v, %v", spent, spentErr, given, givenErr, orphans, orphansErr, flaws, flawsErr)
	}
	if err := s.Drop(ctx, []tiles.ID{{}}); err != nil {
		t.Errorf("Drop: %v", err)
	}
	if known, err := st.CloseJob(ctx, "none", time.Now()); known || err != nil {
		t.Errorf("CloseJob: %v, %v", known, err)
	}
	names, err := st.Shelves(ctx)
	jobs, jobsErr := st.Jobs(ctx)
	if len(names) != 0 || err != nil || len(jobs) != 0 || jobsErr != nil {
		t.Errorf("asking made shelves %v, %v and jobs %v, %v", names, err, jobs, jobsErr)
	}
}

func shelvesWritten(t *testing.T, o Suite) {
	st := o.Open(t)
	for _, name := range []string{"b-2", "a", "B", "a-1"} {
		keep(t, shelfOf(t, st, name), hole(0, 0, 0))
	}
	shelfOf(t, st, "zz")
	names, err := o.Again(t, st).Shelves(t.Context())
	if err != nil || len(names) != 4 || names[0] != "B" || names[1] != "a" || names[2] != "a-1" || names[3] != "b-2" {
		t.Errorf("%v, %v", names, err)
	}
}

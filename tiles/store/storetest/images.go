package storetest

import (
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func imageCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"equal ones are held once":     equalOnce,
		"repeated ones are found":      repeated,
		"unused ones go with the last": unusedGo,
	}
}

func equalOnce(t *testing.T, o Suite) {
	s := o.shelf(t)
	images := func(want int64, when string) {
		t.Helper()
		if n := size(t, s).Images; n != want {
			t.Fatalf("%d images %s, want %d", n, when, want)
		}
	}
	var changed []store.Held
	for i := range uint32(50) {
		keep(t, s, image(9, i, 0, 1, 5000))
		changed = append(changed, image(9, i, 0, 2, 5000))
	}
	images(1, "for 50 equal tiles")
	keep(t, s, changed[0])
	images(2, "after one tile changed")
	keep(t, s, changed...)
	images(1, "after all tiles changed")
	for i := range changed {
		changed[i] = hole(9, changed[i].X, 0)
	}
	keep(t, s, changed...)
	images(0, "after all tiles became holes")
}

func repeated(t *testing.T, o Suite) {
	s := o.shelf(t)
	if none, err := s.Repeated(t.Context(), 2); err != nil || len(none) != 0 {
		t.Errorf("unwritten shelf: %v, %v", none, err)
	}
	var recs []store.Held
	for i := range uint32(200) {
		recs = append(recs, image(12, i, 5, 1, 80)) // 200 times
		if i < 3 {
			recs = append(recs, image(13, i, 6, 2, 80)) // 3 times
		}
		recs = append(recs, image(14, i, 7, uint64(1000+i), 80), hole(15, i, 8))
	}
	keep(t, s, recs...)
	all, err := s.Repeated(t.Context(), 2)
	if err != nil || len(all) != 2 {
		t.Fatalf("%d images, %v, want 2", len(all), err)
	}
	first, _ := held(t, s, tiles.ID{Z: 12, X: 0, Y: 5})
	if all[0].Places != 200 || all[0].Hash != first.Hash || all[1].Places != 3 || len(all[1].Some) != 3 {
		t.Errorf("%d and %d places, want 200 and 3", all[0].Places, all[1].Places)
	}
	some := all[0].Some
	if len(some) < 32 || len(some) > 64 || some[len(some)-1].X < 150 || some[0].X > 50 {
		t.Errorf("%d places, from %v to %v: not spread over the 200", len(some), some[0], some[len(some)-1])
	}
	if few, err := s.Repeated(t.Context(), 4); err != nil || len(few) != 1 {
		t.Errorf("%d images at 4 places or more, %v", len(few), err)
	}
}

func unusedGo(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(4, 1, 1, 1, 50), image(4, 2, 1, 1, 50), image(4, 3, 1, 2, 50))
	for i, step := range []struct {
		drop []tiles.ID
		left int64
	}{
		{[]tiles.ID{{Z: 4, X: 1, Y: 1}}, 2}, // used at another place
		{[]tiles.ID{{Z: 4, X: 2, Y: 1}}, 1},
		{[]tiles.ID{{Z: 4, X: 9, Y: 9}, {Z: 44, X: 1 << 31}}, 1}, // not held, impossible
		{[]tiles.ID{{Z: 4, X: 3, Y: 1}, {Z: 4, X: 3, Y: 1}}, 0},  // named twice
	} {
		if err := s.Drop(t.Context(), step.drop); err != nil {
			t.Fatal(err)
		}
		if n := size(t, s).Images; n != step.left {
			t.Errorf("step %d: %d images left, want %d", i, n, step.left)
		}
	}
	for _, drop := range []bool{false, true, false} {
		if n, err := s.Orphans(t.Context(), drop); n != 0 || err != nil {
			t.Errorf("%d orphans, %v", n, err)
		}
	}
}

package storetest

import (
	"errors"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func renewCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"times, validators and marks":    renewed,
		"a tile that is not held":        notHeld,
		"a shelf that was never written": renewUnwritten,
	}
}

func renewed(t *testing.T, o Suite) {
	s := o.shelf(t)
	want, untouched := image(3, 1, 1, 1, 100), image(3, 2, 1, 2, 100)
	keep(t, s, want, untouched)
	want.Fetched, want.FreshUntil, want.ETag, want.LastModified = want.Fetched.Add(time.Hour), want.FreshUntil.Add(2*time.Hour), `"2"`, "later"
	want.Fixed, want.Immutable, want.UsableUntil = true, true, want.FreshUntil.Add(time.Hour)
	news := want
	news.Data = nil
	if err := s.Renew(t.Context(), []store.Held{news}); err != nil {
		t.Fatal(err)
	}
	if got, _ := held(t, s, want.ID); !same(got, want) {
		t.Errorf("renewed to %+v\nwant %+v", got, want)
	}
	if got, _ := held(t, s, untouched.ID); !same(got, untouched) {
		t.Errorf("another tile became %+v", got)
	}
	plain := image(3, 1, 1, 1, 100)
	if err := s.Renew(t.Context(), []store.Held{news, {Tile: tiles.Tile{ID: plain.ID, Origin: plain.Origin}}}); err != nil {
		t.Fatal(err)
	}
	if got, _ := held(t, s, plain.ID); !same(got, plain) {
		t.Errorf("of two for one tile the last does not win, or marks are not taken back: %+v", got)
	}
	if err := s.Renew(t.Context(), nil); err != nil {
		t.Error(err)
	}
}

func notHeld(t *testing.T, o Suite) {
	s := o.shelf(t)
	r := image(3, 1, 1, 1, 100)
	keep(t, s, r)
	news, other := r, image(3, 2, 1, 1, 100)
	news.ETag = `"3"`
	if err := s.Renew(t.Context(), []store.Held{news, other}); !errors.Is(err, store.NotHeld) || !strings.Contains(err.Error(), "3/2/1") ||
		!strings.Contains(err.Error(), "run again") {
		t.Errorf("%v (%T), want a NotHeld of 3/2/1", err, err)
	}
	if got, _ := held(t, s, r.ID); !same(got, r) {
		t.Errorf("half of a refused batch was written: %+v", got)
	}
}

func renewUnwritten(t *testing.T, o Suite) {
	st := o.Open(t)
	if err := shelfOf(t, st, "x").Renew(t.Context(), []store.Held{image(3, 1, 1, 1, 1)}); !errors.Is(err, store.NotHeld) || !strings.Contains(err.Error(), "3/1/1") {
		t.Errorf("%v (%T), want a NotHeld", err, err)
	}
	if names, err := st.Shelves(t.Context()); err != nil || len(names) != 0 {
		t.Errorf("renewing made %v, %v", names, err)
	}
}

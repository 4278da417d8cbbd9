package storetest

import (
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func houseCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"size":                       sizes,
		"dropping":                   dropping,
		"a sound store has no flaws": sound,
		"room is given back":         giveBack,
	}
}

func sizes(t *testing.T, o Suite) {
	s := o.shelf(t)
	late := image(9, 3, 0, 3, 50000)
	late.Fetched = late.Fetched.Add(48 * time.Hour)
	keep(t, s, image(9, 1, 0, 1, 50000), image(9, 2, 0, 1, 50000), late, hole(9, 4, 0))
	z := size(t, s)
	if z.Tiles != 3 || z.Holes != 1 || z.Images != 2 || !z.Newest.Equal(late.Fetched) || !z.Oldest.Equal(late.Fetched.Add(-48*time.Hour)) {
		t.Errorf("%+v", z)
	}
	if z.Bytes < 100000 || z.Bytes > 2000000 {
		t.Errorf("%d bytes for 100,000 bytes of images", z.Bytes)
	}
}

func dropping(t *testing.T, o Suite) {
	s := o.shelf(t)
	var ids []tiles.ID
	for i := range uint32(300) {
		keep(t, s, image(10, i, 1, uint64(i), 40))
		if i%3 == 0 {
			ids = append(ids, tiles.ID{Z: 10, X: i, Y: 1})
		}
	}
	if err := s.Drop(t.Context(), ids); err != nil {
		t.Fatal(err)
	}
	for _, r := range within(t, s, row(10, 1, 0, 1023), true) {
		if r.X%3 == 0 || !same(r, image(10, r.X, 1, uint64(r.X), 40)) {
			t.Errorf("tile %s is there, or is not what it was", r.ID)
		}
	}
	if z := size(t, s); z.Tiles != 200 || z.Images != 200 {
		t.Errorf("%+v", z)
	}
	if err := s.Drop(t.Context(), nil); err != nil {
		t.Error(err)
	}
}

func sound(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(9, 1, 0, 1, 5000), image(9, 2, 0, 1, 5000), hole(9, 3, 0))
	if flaws, err := s.Sound(t.Context()); err != nil || len(flaws) != 0 {
		t.Errorf("%q, %v", flaws, err)
	}
}

// giveBack: what is given back is no more than there was, nothing that is held
// goes with it, and the size is that of what is held: who prunes down to a size
// and finds the old one would prune again and again.
func giveBack(t *testing.T, o Suite) {
	s := o.shelf(t)
	var recs []store.Held
	var ids []tiles.ID
	for i := range uint32(300) {
		recs = append(recs, image(11, i, 0, uint64(i), 20000))
		if i >= 20 {
			ids = append(ids, recs[i].ID)
		}
	}
	keep(t, s, recs...)
	before := size(t, s).Bytes
	if err := s.Drop(t.Context(), ids); err != nil {
		t.Fatal(err)
	}
	given, err := s.GiveBack(t.Context())
	if err != nil || given < 0 || given > before*11/10 {
		t.Fatalf("%d of %d bytes, %v", given, before, err)
	}
	if after := size(t, s).Bytes; after > before/5 {
		t.Errorf("%d bytes for the 15th part of what took %d", after, before)
	}
	t.Logf("gave back %d of %d bytes; 5.6 MB of images had gone", given, before)
	for _, want := range recs[:20] {
		if got, ok := held(t, s, want.ID); !ok || !same(got, want) {
			t.Fatalf("tile %s: held %v", want.ID, ok)
		}
	}
}

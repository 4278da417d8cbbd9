package storetest

import (
	"crypto/sha256"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func tileCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"come back as they were kept":          roundTrip,
		"come back from another process":       otherProcess,
		"hold any text and any time":           oddText,
		"say what changed":                     keptCounts,
		"the last of two for one place wins":   lastWins,
		"what is no tile is refused":           noTile,
		"a shelf knows nothing of its fellows": apart,
		"a large batch is one batch":           largeBatch,
	}
}

func roundTrip(t *testing.T, o Suite) {
	s := o.shelf(t)
	recs := []store.Held{
		image(3, 1, 2, 1, 900), image(3, 0, 2, 2, 40000), hole(3, 2, 2), image(3, 0, 1, 3, 1), image(4, 0, 2, 4, 10),
		image(0, 0, 0, 5, 10), image(24, 1<<24-1, 1<<24-1, 6, 10),
	}
	recs[3].Origin = tiles.Origin{Source: "county"} // zero times, no validators
	recs[4].Fixed, recs[4].Media = true, "webp"
	recs[5].Immutable, recs[5].UsableUntil = true, recs[5].FreshUntil.Add(24*time.Hour)
	keep(t, s, recs...)
	for _, want := range recs {
		got, ok := held(t, s, want.ID)
		if !ok || !same(got, want) || got.Bytes != len(want.Data) {
			t.Errorf("tile %s: held %v, %+v\nwant %+v", want.ID, ok, got, want)
		}
		if want := sha256.Sum256(want.Data); !got.Hole && got.Hash != want {
			t.Errorf("tile %s: hash %x, want %x", got.ID, got.Hash, want)
		}
		if got.Hole && got.Hash != [32]byte{} {
			t.Errorf("the hole %s has a hash", got.ID)
		}
	}
	for _, id := range []tiles.ID{{Z: 3, X: 3, Y: 2}, {Z: 99}, {Z: 3, X: 1 << 31, Y: 1<<32 - 1}} {
		if _, ok := held(t, s, id); ok {
			t.Errorf("%s is held and was never kept", id)
		}
	}
}

func otherProcess(t *testing.T, o Suite) {
	st := o.Open(t)
	keep(t, shelfOf(t, st, "town"), image(3, 1, 2, 1, 900))
	other := shelfOf(t, o.Again(t, st), "town")
	if got, ok := held(t, other, tiles.ID{Z: 3, X: 1, Y: 2}); !ok || !same(got, image(3, 1, 2, 1, 900)) {
		t.Errorf("another process finds %v, %+v", ok, got)
	}
	keep(t, other, image(3, 1, 3, 2, 100))
	if _, ok := held(t, shelfOf(t, st, "town"), tiles.ID{Z: 3, X: 1, Y: 3}); !ok {
		t.Error("what another process kept is not found")
	}
}

// A validator is any bytes but controls (RFC 9110, 8.8.3: obs-text), and dates
// of servers whose clock was never set are far away.
func oddText(t *testing.T, o Suite) {
	s := o.shelf(t)
	r := image(5, 1, 1, 1, 10)
	r.ETag, r.LastModified, r.Source = "\"\xff\xe9'\\;--\"", "\x80 never", "Größe 'x' 県"
	r.Fetched = time.Date(1969, 12, 31, 23, 59, 59, 999999000, time.UTC)
	r.FreshUntil = time.Date(9999, 1, 2, 3, 4, 5, 6000, time.UTC)
	keep(t, s, r)
	if got, _ := held(t, s, r.ID); !same(got, r) {
		t.Errorf("got %+v\nwant %+v", got, r)
	}
}

func keptCounts(t *testing.T, o Suite) {
	s := o.shelf(t)
	for _, c := range []struct {
		name string
		recs []store.Held
		want store.Kept
	}{
		{"nothing", nil, store.Kept{}},
		{"all new", []store.Held{image(4, 0, 0, 1, 9), image(4, 1, 0, 2, 9), image(4, 2, 0, 2, 9), hole(4, 3, 0)}, store.Kept{New: 3, Holes: 1}},
		{"the same", []store.Held{image(4, 0, 0, 1, 9), hole(4, 3, 0)}, store.Kept{Same: 1, Holes: 1}},
		{"others", []store.Held{image(4, 0, 0, 5, 9), image(4, 1, 0, 2, 9)}, store.Kept{Changed: 1, Same: 1}},
		{"an image for a hole", []store.Held{image(4, 3, 0, 2, 9)}, store.Kept{New: 1}},
		{"holes for images", []store.Held{hole(4, 0, 0), hole(4, 1, 0), hole(4, 9, 0)}, store.Kept{Holes: 3, Gone: 2}},
	} {
		if got := keep(t, s, c.recs...); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

func lastWins(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(9, 1, 1, 1, 10), image(9, 1, 1, 2, 10))
	if got, _ := held(t, s, tiles.ID{Z: 9, X: 1, Y: 1}); !same(got, image(9, 1, 1, 2, 10)) {
		t.Error("the first record won")
	}
	if z := size(t, s); z.Images != 1 || z.Tiles != 1 {
		t.Errorf("%d images for %d tiles, want one of each", z.Images, z.Tiles)
	}
}

func noTile(t *testing.T, o Suite) {
	s := o.shelf(t)
	odd := hole(3, 1, 1)
	odd.Data = []byte("x")
	for name, r := range map[string]store.Held{
		"no such tile": image(3, 8, 0, 1, 10), "no such zoom": image(25, 0, 0, 1, 10), "empty image": image(3, 1, 1, 1, 0), "hole with image": odd,
	} {
		if _, err := s.Keep(t.Context(), []store.Held{image(3, 0, 0, 1, 10), r}); err == nil || !strings.Contains(err.Error(), r.ID.String()) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, ok := held(t, s, tiles.ID{Z: 3}); ok {
		t.Error("half of a refused batch was kept")
	}
}

func apart(t *testing.T, o Suite) {
	st := o.Open(t)
	a, b := shelfOf(t, st, "a"), shelfOf(t, st, "b")
	keep(t, a, image(4, 1, 1, 1, 50), image(4, 2, 1, 2, 50))
	keep(t, b, image(4, 1, 1, 1, 50))
	if err := a.Drop(t.Context(), []tiles.ID{{Z: 4, X: 1, Y: 1}}); err != nil {
		t.Fatal(err)
	}
	if got, ok := held(t, b, tiles.ID{Z: 4, X: 1, Y: 1}); !ok || !same(got, image(4, 1, 1, 1, 50)) {
		t.Errorf("dropping a tile of one shelf took that of another: %v, %+v", ok, got)
	}
	if n := len(everything(t, b, false)); n != 1 {
		t.Errorf("%d records on a shelf that got one", n)
	}
	keep(t, a, image(4, 2, 1, 1, 50))
	if z := size(t, a); z.Images != 1 || z.Tiles != 1 {
		t.Errorf("shelf a: %+v", z)
	}
}

// 40 MB in 3,000 tiles: more than a store may want to send in one go.
func largeBatch(t *testing.T, o Suite) {
	s := o.shelf(t)
	var recs []store.Held
	for i := range uint32(3000) {
		recs = append(recs, image(14, i%50, i/50, uint64(i%2800), 13500))
	}
	if kept := keep(t, s, recs...); kept.New != 3000 {
		t.Errorf("%+v", kept)
	}
	for i := 0; i < len(recs); i += 97 {
		if got, ok := held(t, s, recs[i].ID); !ok || !same(got, recs[i]) {
			t.Fatalf("tile %s: held %v", recs[i].ID, ok)
		}
	}
	if z := size(t, s); z.Images != 2800 || z.Tiles != 3000 {
		t.Errorf("%d images for %d tiles, want 2800 and 3000", z.Images, z.Tiles)
	}
}

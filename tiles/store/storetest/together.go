package storetest

import (
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func togetherCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"several write":                   writeTogether,
		"one keeps what another drops":    keepAndDrop,
		"several begin at the same time":  beginTogether,
		"a reader among writers is right": readAmongWriters,
	}
}

// at runs do n times at once, each with the shelf as another process sees it.
func at(t *testing.T, o Suite, st store.Store, n int, do func(i int, s store.Shelf) error) {
	t.Helper()
	var all sync.WaitGroup
	for i := range n {
		s := shelfOf(t, o.Again(t, st), "shared")
		all.Go(func() {
			if err := do(i, s); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
}

func writeTogether(t *testing.T, o Suite) {
	const writers, batches, batch = 4, 25, 8
	st := o.Open(t)
	at(t, o, st, writers, func(w int, s store.Shelf) error {
		for b := range uint32(batches) {
			var recs []store.Held
			for i := range uint32(batch) {
				recs = append(recs, image(12, b*batch+i, uint32(w), uint64(b), 3000))
			}
			if _, err := s.Keep(t.Context(), recs); err != nil {
				return fmt.Errorf("writer %d, batch %d: %w", w, b, err)
			}
		}
		return nil
	})
	s := shelfOf(t, st, "shared")
	if n := len(everything(t, s, true)); n != writers*batches*batch {
		t.Errorf("%d tiles, want %d", n, writers*batches*batch)
	}
	if n := size(t, s).Images; n != batches {
		t.Errorf("%d images, want %d", n, batches)
	}
}

// keepAndDrop: few images, many places, and no image may go while a tile that
// is just being kept needs it.
func keepAndDrop(t *testing.T, o Suite) {
	st := o.Open(t)
	at(t, o, st, 4, func(w int, s store.Shelf) error {
		rng := rand.New(rand.NewPCG(uint64(w), 11))
		for range 40 {
			x, y := rng.Uint32N(6), rng.Uint32N(2)
			if rng.Uint32N(2) == 0 {
				if err := s.Drop(t.Context(), []tiles.ID{{Z: 5, X: x, Y: y}, {Z: 5, X: x + 1, Y: y}}); err != nil {
					return err
				}
				continue
			}
			recs := []store.Held{image(5, x, y, uint64(rng.Uint32N(3)), 200), image(5, x+1, y, uint64(rng.Uint32N(3)), 200)}
			if _, err := s.Keep(t.Context(), recs); err != nil {
				return err
			}
		}
		return nil
	})
	s := shelfOf(t, st, "shared")
	cover := tiles.NewCover(5, []tiles.Span{{Row: 0, First: 0, Last: 9}, {Row: 1, First: 0, Last: 9}})
	within(t, s, cover, true) // proves every image
	if n, err := s.Orphans(t.Context(), false); n != 0 || err != nil {
		t.Errorf("%d orphans, %v", n, err)
	}
	if flaws, err := s.Sound(t.Context()); len(flaws) != 0 || err != nil {
		t.Errorf("%q, %v", flaws, err)
	}
}

// beginTogether: the first writes to a new store come at the same moment.
func beginTogether(t *testing.T, o Suite) {
	st := o.Open(t)
	at(t, o, st, 6, func(i int, s store.Shelf) error {
		_, err := s.Keep(t.Context(), []store.Held{image(6, uint32(i), 0, uint64(i), 50)})
		return err
	})
	if n := len(within(t, shelfOf(t, st, "shared"), row(6, 0, 0, 63), true)); n != 6 {
		t.Errorf("%d tiles of 6", n)
	}
}

// readAmongWriters: a tile is one of the two that are written over and over,
// whole, and its image is always there.
func readAmongWriters(t *testing.T, o Suite) {
	st := o.Open(t)
	one, two := image(6, 1, 1, 1, 9000), image(6, 1, 1, 2, 9000)
	two.ETag = "two"
	keep(t, shelfOf(t, st, "shared"), one)
	at(t, o, st, 3, func(i int, s store.Shelf) error {
		for n := range 60 {
			if i == 0 {
				r := one
				if n%2 == 0 {
					r = two
				}
				if _, err := s.Keep(t.Context(), []store.Held{r}); err != nil {
					return err
				}
				continue
			}
			for r, err := range s.In(t.Context(), row(6, 1, 0, 3), true) {
				if err != nil {
					return err
				}
				if !same(r, one) && !same(r, two) {
					return fmt.Errorf("read a tile that nobody wrote: %+v", r.Origin)
				}
			}
		}
		return nil
	})
}

package storetest

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func walkCases() map[string]func(*testing.T, Suite) {
	return map[string]func(*testing.T, Suite){
		"a cover in tile order":                 coverOrder,
		"any cover":                             randomCovers,
		"everything in tile order":              allOrder,
		"the caller writes while it walks":      writeWhileWalking,
		"the caller drops while it walks":       dropWhileWalking,
		"the caller stops":                      stopWalking,
		"the context ends":                      cancelWalking,
		"records own their bytes":               ownBytes,
		"more than is read in one go, in order": longWalk,
	}
}

func names(recs []store.Held) string {
	var out []string
	for _, r := range recs {
		out = append(out, r.String())
	}
	return strings.Join(out, " ")
}

func coverOrder(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(5, 9, 4, 1, 10), image(5, 2, 4, 2, 10), hole(5, 3, 4), image(5, 0, 7, 3, 10), image(5, 1, 3, 4, 10), image(6, 2, 4, 5, 10))
	c := tiles.NewCover(5, []tiles.Span{{Row: 7, First: 0, Last: 31}, {Row: 4, First: 2, Last: 5}, {Row: 4, First: 9, Last: 9}, {Row: 5, First: 0, Last: 3}})
	for _, data := range []bool{false, true} {
		recs := within(t, s, c, data)
		if got := names(recs); got != "5/2/4 5/3/4 5/9/4 5/0/7" {
			t.Errorf("data %v: %s", data, got)
		}
		for _, r := range recs {
			if (len(r.Data) > 0) != (data && !r.Hole) {
				t.Errorf("tile %s: %d bytes with data %v", r.ID, len(r.Data), data)
			}
			if !r.Hole && r.Bytes != 10 {
				t.Errorf("tile %s: Bytes %d", r.ID, r.Bytes)
			}
		}
	}
	if got := within(t, s, tiles.Cover{}, true); len(got) != 0 {
		t.Errorf("an empty cover yields %s", names(got))
	}
}

// randomCovers compares walks with a plain filter of what was kept.
func randomCovers(t *testing.T, o Suite) {
	s := o.shelf(t)
	rng := rand.New(rand.NewPCG(20261125, 3))
	held := map[tiles.ID]store.Held{}
	var recs []store.Held
	for range 2000 {
		r := image(7, rng.Uint32N(128), rng.Uint32N(128), uint64(rng.Uint32N(40)), 60)
		if rng.Uint32N(5) == 0 {
			r = hole(7, r.X, r.Y)
		}
		recs, held[r.ID] = append(recs, r), r
	}
	keep(t, s, recs...)
	for range 20 {
		var spans []tiles.Span
		for range rng.IntN(60) {
			first := rng.Uint32N(128)
			spans = append(spans, tiles.Span{Row: rng.Uint32N(128), First: first, Last: first + rng.Uint32N(60)})
		}
		c := tiles.NewCover(7, spans)
		var want []store.Held
		for id := range c.All() {
			if r, ok := held[id]; ok {
				want = append(want, r)
			}
		}
		if got := within(t, s, c, true); !slices.EqualFunc(got, want, same) {
			t.Fatalf("cover %v: got %s\nwant %s", c.Spans(), names(got), names(want))
		}
	}
}

func allOrder(t *testing.T, o Suite) {
	s := o.shelf(t)
	want := []store.Held{hole(0, 0, 0), image(3, 7, 1, 1, 10), image(3, 0, 2, 2, 10), image(3, 1, 2, 2, 10), image(20, 5, 9, 3, 10)}
	shuffled := slices.Clone(want)
	slices.Reverse(shuffled)
	keep(t, s, shuffled...)
	if got := everything(t, s, true); !slices.EqualFunc(got, want, same) {
		t.Errorf("got %s\nwant %s", names(got), names(want))
	}
	for _, r := range everything(t, s, false) {
		if len(r.Data) > 0 {
			t.Errorf("tile %s comes with its image unasked", r.ID)
		}
	}
}

func writeWhileWalking(t *testing.T, o Suite) {
	s := o.shelf(t)
	for i := range uint32(20) {
		keep(t, s, image(8, i, 0, uint64(i), 100))
	}
	n := 0
	for r, err := range s.In(t.Context(), row(8, 0, 0, 255), true) {
		if err != nil {
			t.Fatal(err)
		}
		r.ETag = "new"
		keep(t, s, r)
		if n++; n == 15 {
			break
		}
	}
	renewed := 0
	for _, r := range within(t, s, row(8, 0, 0, 255), false) {
		if r.ETag == "new" {
			renewed++
		}
	}
	if renewed != 15 {
		t.Errorf("%d tiles were written during the walk, want 15", renewed)
	}
}

// Tiles change or go while the walk stands before them, far enough on that a
// store has read their rows at most. What comes then is as it was or as it is,
// and nothing else.
func dropWhileWalking(t *testing.T, o Suite) {
	for _, all := range []bool{false, true} {
		s := o.shelf(t)
		var recs []store.Held
		for i := range uint32(100) {
			recs = append(recs, image(8, i, 0, uint64(i), 100000))
		}
		keep(t, s, recs...)
		walk := s.In(t.Context(), row(8, 0, 0, 255), true)
		if all {
			walk = s.All(t.Context(), true)
		}
		seen := 0
		for r, err := range walk {
			if err != nil {
				t.Fatalf("after %d tiles: %v", seen, err)
			}
			if !same(r, recs[r.X]) && !same(r, image(8, r.X, 0, 1000, 300)) {
				t.Errorf("tile %s is neither as it was nor as it is", r.ID)
			}
			if seen++; seen == 1 {
				keep(t, s, image(8, 90, 0, 1000, 300), image(8, 91, 0, 1000, 300))
				if err := s.Drop(t.Context(), []tiles.ID{{Z: 8, X: 95}, {Z: 8, X: 96}}); err != nil {
					t.Fatal(err)
				}
			}
		}
		if seen < 98 || seen > 100 {
			t.Errorf("%d tiles, want 98 to 100", seen)
		}
	}
}

func stopWalking(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(8, 1, 0, 1, 100), image(8, 2, 0, 2, 100), image(8, 3, 0, 3, 100))
	for _, err := range s.All(t.Context(), true) {
		if err != nil {
			t.Error(err)
		}
		break
	}
	n := 0
	for _, err := range s.In(t.Context(), row(8, 0, 0, 9), true) {
		if n++; err != nil || n == 2 {
			break
		}
	}
	if n != 2 {
		t.Errorf("%d tiles", n)
	}
}

func cancelWalking(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(8, 1, 0, 1, 100))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	n := 0
	for _, err := range s.In(ctx, row(8, 0, 0, 9), true) {
		if n++; !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want context.Canceled", err)
		}
	}
	if n != 1 {
		t.Errorf("%d yields, want one error", n)
	}
}

// A caller may change what it is given; the same image at another place stays.
func ownBytes(t *testing.T, o Suite) {
	s := o.shelf(t)
	keep(t, s, image(8, 1, 0, 1, 100), image(8, 2, 0, 1, 100), image(8, 3, 0, 1, 100))
	n := 0
	for r, err := range s.In(t.Context(), row(8, 0, 0, 9), true) {
		if err != nil {
			t.Fatal(err)
		}
		clear(r.Data)
		n++
	}
	if n != 3 {
		t.Errorf("%d tiles", n)
	}
}

func longWalk(t *testing.T, o Suite) {
	s := o.shelf(t)
	const rows, columns = 20, 1000
	var recs []store.Held
	for y := range uint32(rows) {
		for x := range uint32(columns) {
			r := hole(18, 3*x, 7*y)
			if x%10 == 0 {
				r = image(18, 3*x, 7*y, uint64(x+y), 100)
			}
			recs = append(recs, r)
		}
	}
	keep(t, s, recs...)
	var spans []tiles.Span
	for y := range uint32(rows) {
		spans = append(spans, tiles.Span{Row: 7 * y, First: 0, Last: 3 * columns})
	}
	if got := within(t, s, tiles.NewCover(18, spans), true); !slices.EqualFunc(got, recs, same) {
		t.Errorf("In: %d records, want %d in their order", len(got), len(recs))
	}
	if got := everything(t, s, true); !slices.EqualFunc(got, recs, same) {
		t.Errorf("All: %d records, want %d in their order", len(got), len(recs))
	}
}

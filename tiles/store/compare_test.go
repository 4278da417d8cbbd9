package store

import (
	"context"
	"errors"
	"iter"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

func TestState(t *testing.T) {
	fetched := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	now := fetched.Add(10 * time.Hour)
	pair := func(fresh time.Duration) Pair {
		return Pair{Has: true, Held: Held{Tile: tiles.Tile{Origin: tiles.Origin{Fetched: fetched, FreshUntil: fetched.Add(fresh)}}}}
	}
	ahead := pair(99 * time.Hour)
	ahead.Held.Fetched = now.Add(tiles.ClockSlack + time.Second)
	slack := ahead
	slack.Held.Fetched = now.Add(tiles.ClockSlack)
	hole := pair(10 * time.Hour)
	hole.Held.Hole = true
	short := &source.Terms{KeepAtMost: measure.Age(9 * time.Hour)}
	for name, c := range map[string]struct {
		terms *source.Terms
		pair  Pair
		want  State
	}{
		"missing":                 {&source.Terms{}, Pair{}, Missing},
		"fresh":                   {&source.Terms{}, pair(11 * time.Hour), Fresh},
		"stale":                   {&source.Terms{}, pair(10 * time.Hour), Stale},
		"a stale hole":            {&source.Terms{}, hole, Stale},
		"fresh, kept long enough": {short, pair(99 * time.Hour), Stale},
		"no terms":                {nil, pair(11 * time.Hour), Fresh},
		"within what may be kept": {&source.Terms{KeepAtMost: measure.Age(11 * time.Hour)}, pair(99 * time.Hour), Fresh},
		"fetched in the future":   {nil, ahead, Stale},
		"within the clock slack":  {nil, slack, Fresh},
	} {
		if got := c.pair.State(c.terms, now); got != c.want {
			t.Errorf("%s: state %d, want %d", name, got, c.want)
		}
	}
}

// fakeReader yields its tiles in the order given, then its error.
type fakeReader struct {
	ids []tiles.ID
	err error
}

func (f fakeReader) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[Held, error] {
	return func(yield func(Held, error) bool) {
		for _, id := range f.ids {
			if int(id.Z) == c.Zoom() && !yield(Held{Tile: tiles.Tile{ID: id}}, nil) {
				return
			}
		}
		if f.err != nil {
			yield(Held{}, f.err)
		}
	}
}

func randomCover(r *rand.Rand, zoom int) tiles.Cover {
	var spans []tiles.Span
	for range r.IntN(6) {
		first := r.Uint32N(20)
		spans = append(spans, tiles.Span{Row: r.Uint32N(5), First: first, Last: first + r.Uint32N(6)})
	}
	return tiles.NewCover(zoom, spans)
}

// The merge agrees with a plain look-up on random covers and holdings.
func TestCompare(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 500 {
		covers := []tiles.Cover{randomCover(r, 6), randomCover(r, 7)}
		var held fakeReader
		var want, got []Pair
		for _, c := range covers {
			for id := range c.All() {
				p := Pair{ID: id, Has: r.IntN(2) == 0}
				if p.Has {
					p.Held.ID = id
					held.ids = append(held.ids, id)
				}
				want = append(want, p)
			}
		}
		stop := r.IntN(3) * len(want) / 2 // also a caller that stops
		for p, err := range Compare(t.Context(), held, false, covers...) {
			if err != nil {
				t.Fatal(err)
			}
			if len(got) == stop {
				break
			}
			got = append(got, p)
		}
		same := func(a, b Pair) bool { return a.ID == b.ID && a.Has == b.Has && a.Held.ID == b.Held.ID }
		if !slices.EqualFunc(got, want[:stop], same) {
			t.Fatalf("%v\nwant %v", got, want[:stop])
		}
	}
}

// An error ends the pairs: what lies behind it is not missing.
func TestCompareEndsWithAnError(t *testing.T) {
	row := tiles.NewCover(6, []tiles.Span{{Row: 1, First: 0, Last: 9}})
	at := func(x uint32) tiles.ID { return tiles.ID{Z: 6, X: x, Y: 1} }
	broken := errors.New("page 7 cannot be read")
	for name, c := range map[string]struct {
		held fakeReader
		want int // pairs before the error
		says string
	}{
		"at once":         {fakeReader{err: broken}, 0, "page 7"},
		"midway":          {fakeReader{[]tiles.ID{at(2), at(4)}, broken}, 5, "page 7"},
		"behind the last": {fakeReader{[]tiles.ID{at(9)}, broken}, 10, "page 7"},
		"out of order":    {fakeReader{ids: []tiles.ID{at(4), at(2)}}, 5, "6/2/1"},
		"not asked for":   {fakeReader{ids: []tiles.ID{at(4), {Z: 6, X: 4, Y: 2}}}, 10, "6/4/2"},
		"twice":           {fakeReader{ids: []tiles.ID{at(4), at(4)}}, 5, "6/4/1"},
	} {
		n, failed := 0, error(nil)
		for _, err := range Compare(t.Context(), c.held, false, row, row) {
			if failed != nil {
				t.Errorf("%s: something follows the error", name)
			}
			if failed = err; err == nil {
				n++
			}
		}
		if n != c.want || failed == nil || !strings.Contains(failed.Error(), c.says) {
			t.Errorf("%s: %d pairs, %v; want %d", name, n, failed, c.want)
		}
	}
}

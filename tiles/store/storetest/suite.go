package storetest

import (
	"math/rand/v2"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Suite says how to come by a store. Both functions see to closing what they
// open when the test ends.
type Suite struct {
	// Open gives a store with nothing in it, another one each time.
	Open func(t *testing.T) store.Store
	// Again opens a store once more, as another process would: nothing but
	// what lies in the store itself is shared.
	Again func(t *testing.T, s store.Store) store.Store
}

// Run runs the whole suite.
func Run(t *testing.T, o Suite) {
	for _, group := range []struct {
		name  string
		cases map[string]func(*testing.T, Suite)
	}{
		{"Tiles", tileCases()}, {"Walks", walkCases()}, {"Images", imageCases()}, {"Renewing", renewCases()},
		{"Survey", surveyCases()}, {"House", houseCases()}, {"Turns", turnCases()}, {"Pace", paceCases()},
		{"Budget", budgetCases()}, {"Jobs", jobCases()}, {"Together", togetherCases()}, {"Ends", endCases()},
	} {
		t.Run(group.name, func(t *testing.T) {
			for name, do := range group.cases {
				t.Run(name, func(t *testing.T) { do(t, o) })
			}
		})
	}
}

// shelf is a shelf of an empty store.
func (o Suite) shelf(t *testing.T) store.Shelf {
	t.Helper()
	return shelfOf(t, o.Open(t), "county-0011aabb")
}

func shelfOf(t *testing.T, s store.Store, name string) store.Shelf {
	t.Helper()
	shelf, err := s.Shelf(name)
	if err != nil {
		t.Fatal(err)
	}
	return shelf
}

func keep(t *testing.T, s store.Writer, recs ...store.Held) store.Kept {
	t.Helper()
	kept, err := s.Keep(t.Context(), recs)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// image is a record whose bytes follow from the seed.
func image(z, x, y uint32, seed uint64, size int) store.Held {
	rng := rand.New(rand.NewPCG(seed, 7))
	data := make([]byte, size)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	at := time.Date(2026, 3, 4, 5, 6, 7, 123456000, time.UTC)
	return store.Held{
		Media: "jpg",
		Tile: tiles.Tile{ID: tiles.ID{Z: z, X: x, Y: y}, Data: data, Origin: tiles.Origin{
			Source: "county", Fetched: at, FreshUntil: at.Add(time.Hour), ETag: `W/"1"`, LastModified: "Sun, 06 Nov 1994 08:49:37 GMT",
		}},
	}
}

func hole(z, x, y uint32) store.Held {
	r := image(z, x, y, 0, 0)
	r.Data, r.Media, r.Hole = nil, "", true
	return r
}

// same leaves out Hash and Bytes, which the store works out.
func same(a, b store.Held) bool {
	return a.ID == b.ID && string(a.Data) == string(b.Data) && a.Origin == b.Origin && a.Media == b.Media && a.Hole == b.Hole &&
		a.Fixed == b.Fixed && a.Immutable == b.Immutable && a.UsableUntil.Equal(b.UsableUntil)
}

func held(t *testing.T, s store.Reader, id tiles.ID) (store.Held, bool) {
	t.Helper()
	r, ok, err := s.Get(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return r, ok
}

// row covers the columns of one row.
func row(zoom int, y, first, last uint32) tiles.Cover {
	return tiles.NewCover(zoom, []tiles.Span{{Row: y, First: first, Last: last}})
}

func within(t *testing.T, s store.Reader, c tiles.Cover, data bool) []store.Held {
	t.Helper()
	var out []store.Held
	for r, err := range s.In(t.Context(), c, data) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func everything(t *testing.T, s store.Maintenance, data bool) []store.Held {
	t.Helper()
	var out []store.Held
	for r, err := range s.All(t.Context(), data) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func size(t *testing.T, s store.Maintenance) store.Size {
	t.Helper()
	z, err := s.Size(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return z
}

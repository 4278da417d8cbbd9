package folder

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// TestMain turns the test binary into what the tests of kills kill.
func TestMain(m *testing.M) {
	if dir := os.Getenv("STORE_TEST_WRITER"); dir != "" {
		writeUntilKilled(dir)
	}
	if dir := os.Getenv("STORE_TEST_HOUSE"); dir != "" {
		keepHouse(dir)
	}
	if dir := os.Getenv("STORE_TEST_UPGRADE"); dir != "" {
		upgrade(dir)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func open(t *testing.T, dir string) (*Store, *Shelf) {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	shelf, err := s.shelf("county-0011aabb")
	if err != nil {
		t.Fatal(err)
	}
	return s, shelf
}

func keep(t *testing.T, s *Shelf, recs ...store.Held) {
	t.Helper()
	if _, err := s.Keep(context.Background(), recs); err != nil {
		t.Fatal(err)
	}
}

// image is a record whose bytes follow from the seed.
func image(z, x, y uint32, seed uint64, size int) store.Held {
	rng := rand.New(rand.NewPCG(seed, 7))
	data := make([]byte, size)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	at := time.Date(2026, 3, 4, 5, 6, 7, 123456000, time.UTC)
	return store.Held{Media: "jpg", Tile: tiles.Tile{ID: tiles.ID{Z: z, X: x, Y: y}, Data: data, Origin: tiles.Origin{
		Source: "county", Fetched: at, FreshUntil: at.Add(time.Hour), ETag: `W/"1"`, LastModified: "Sun, 06 Nov 1994 08:49:37 GMT"}}}
}

func hole(z, x, y uint32) store.Held {
	r := image(z, x, y, 0, 0)
	r.Data, r.Media, r.Hole = nil, "", true
	return r
}

func all(t *testing.T, s *Shelf, c tiles.Cover, data bool) []store.Held {
	t.Helper()
	var out []store.Held
	for r, err := range s.In(context.Background(), c, data) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func same(a, b store.Held) bool {
	return a.ID == b.ID && string(a.Data) == string(b.Data) && a.Origin == b.Origin && a.Media == b.Media && a.Hole == b.Hole
}

func count(t *testing.T, s *Shelf, query string) (n int) {
	t.Helper()
	if err := s.db.QueryRow(query).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// What the suite cannot know: a folder's name may be anything.
func TestOddFolder(t *testing.T) {
	_, s := open(t, filepath.Join(t.TempDir(), "a b%20?#c"))
	want := image(3, 1, 2, 1, 900)
	keep(t, s, want)
	if got, ok, err := s.Get(t.Context(), want.ID); err != nil || !ok || !same(got, want) {
		t.Errorf("held %v, %v", ok, err)
	}
}

package disk

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
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

func keep(t *testing.T, s *Shelf, recs ...store.Record) {
	t.Helper()
	if _, err := s.Keep(context.Background(), recs); err != nil {
		t.Fatal(err)
	}
}

// image is a record whose bytes follow from the seed.
func image(z, x, y uint32, seed uint64, size int) store.Record {
	rng := rand.New(rand.NewPCG(seed, 7))
	data := make([]byte, size)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	at := time.Date(2026, 3, 4, 5, 6, 7, 123456000, time.UTC)
	return store.Record{Media: "jpg", Tile: tiles.Tile{ID: tiles.ID{Z: z, X: x, Y: y}, Data: data, Origin: tiles.Origin{
		Source: "county", Fetched: at, FreshUntil: at.Add(time.Hour), ETag: `W/"1"`, LastModified: "Sun, 06 Nov 1994 08:49:37 GMT"}}}
}

func hole(z, x, y uint32) store.Record {
	r := image(z, x, y, 0, 0)
	r.Data, r.Media, r.Hole = nil, "", true
	return r
}

func all(t *testing.T, s *Shelf, c tiles.Cover, data bool) []store.Record {
	t.Helper()
	var out []store.Record
	for r, err := range s.In(context.Background(), c, data) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

func same(a, b store.Record) bool {
	return a.ID == b.ID && string(a.Data) == string(b.Data) && a.Origin == b.Origin && a.Media == b.Media && a.Hole == b.Hole
}

func TestRoundTrip(t *testing.T) {
	_, s := open(t, filepath.Join(t.TempDir(), "a b%20?#c"))
	recs := []store.Record{image(3, 1, 2, 1, 900), image(3, 0, 2, 2, 40000), hole(3, 2, 2), image(3, 0, 1, 3, 1), image(4, 0, 2, 4, 10)}
	recs[3].Origin = tiles.Origin{Source: "county"} // zero times, no validators
	keep(t, s, recs...)
	for _, want := range recs {
		got, ok, err := s.Get(context.Background(), want.ID)
		if err != nil || !ok || !same(got, want) || got.Bytes != len(want.Data) {
			t.Errorf("tile %s: %+v, %v, %v", want.ID, got, ok, err)
		}
	}
	if _, ok, err := s.Get(context.Background(), tiles.ID{Z: 3, X: 3, Y: 2}); ok || err != nil {
		t.Errorf("a tile never kept: held %v, %v", ok, err)
	}
	if _, ok, err := s.Get(context.Background(), tiles.ID{Z: 99}); ok || err != nil {
		t.Errorf("an impossible tile: held %v, %v", ok, err)
	}
}

func TestInYieldsTheCoverInTileOrder(t *testing.T) {
	_, s := open(t, t.TempDir())
	keep(t, s, image(5, 9, 4, 1, 10), image(5, 2, 4, 2, 10), hole(5, 3, 4), image(5, 0, 7, 3, 10), image(5, 1, 3, 4, 10), image(6, 2, 4, 5, 10))
	c := tiles.NewCover(5, []tiles.Span{{Row: 7, First: 0, Last: 31}, {Row: 4, First: 2, Last: 5}, {Row: 4, First: 9, Last: 9}, {Row: 5, First: 0, Last: 3}})
	for _, data := range []bool{false, true} {
		var got []string
		for _, r := range all(t, s, c, data) {
			got = append(got, r.String())
			if hasData := len(r.Data) > 0; hasData != (data && !r.Hole) {
				t.Errorf("tile %s: %d bytes with data %v", r.ID, len(r.Data), data)
			}
			if r.Bytes != 10 && !r.Hole {
				t.Errorf("tile %s: Bytes %d", r.ID, r.Bytes)
			}
		}
		if want := "5/2/4 5/3/4 5/9/4 5/0/7"; strings.Join(got, " ") != want {
			t.Errorf("data %v: %v, want %s", data, got, want)
		}
	}
}

func TestKeepReadsItsOwnWalk(t *testing.T) {
	_, s := open(t, t.TempDir())
	for i := range uint32(20) {
		keep(t, s, image(8, i, 0, uint64(i), 100))
	}
	c := tiles.NewCover(8, []tiles.Span{{Row: 0, First: 0, Last: 255}})
	n := 0
	for r, err := range s.In(context.Background(), c, true) {
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
	for _, r := range all(t, s, c, false) {
		if r.ETag == "new" {
			renewed++
		}
	}
	if renewed != 15 {
		t.Errorf("%d tiles were written during the walk, want 15", renewed)
	}
}

func count(t *testing.T, s *Shelf, query string) (n int) {
	t.Helper()
	if err := s.db.QueryRow(query).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestEqualImagesAreHeldOnce(t *testing.T) {
	_, s := open(t, t.TempDir())
	const images = `SELECT count(*) FROM images`
	for i := range uint32(50) {
		keep(t, s, image(9, i, 0, 1, 5000))
	}
	if n := count(t, s, images); n != 1 {
		t.Fatalf("%d images for 50 equal tiles, want 1", n)
	}
	keep(t, s, image(9, 0, 0, 2, 5000))
	if n := count(t, s, images); n != 2 {
		t.Fatalf("%d images after one tile changed, want 2", n)
	}
	var changed []store.Record
	for i := range uint32(50) {
		changed = append(changed, image(9, i, 0, 2, 5000))
	}
	keep(t, s, changed...)
	if n := count(t, s, images); n != 1 {
		t.Fatalf("%d images after all tiles changed, want 1: the old one has no tile", n)
	}
	for i := range changed {
		changed[i] = hole(9, changed[i].X, 0)
	}
	keep(t, s, changed...)
	if n := count(t, s, images); n != 0 {
		t.Fatalf("%d images after all tiles became holes, want 0", n)
	}
}

func TestLastOfTwoRecordsOfOneTileWins(t *testing.T) {
	_, s := open(t, t.TempDir())
	keep(t, s, image(9, 1, 1, 1, 10), image(9, 1, 1, 2, 10))
	if got, _, _ := s.Get(context.Background(), tiles.ID{Z: 9, X: 1, Y: 1}); !same(got, image(9, 1, 1, 2, 10)) {
		t.Error("the first record won")
	}
	if n := count(t, s, `SELECT count(*) FROM images`); n != 1 {
		t.Errorf("%d images, want 1", n)
	}
}

func TestKeepRefusesWhatIsNoTile(t *testing.T) {
	_, s := open(t, t.TempDir())
	odd := hole(3, 1, 1)
	odd.Data = []byte("x")
	for name, r := range map[string]store.Record{"no such tile": image(3, 8, 0, 1, 10), "empty image": image(3, 1, 1, 1, 0), "hole with image": odd} {
		if _, err := s.Keep(context.Background(), []store.Record{image(3, 0, 0, 1, 10), r}); err == nil || !strings.Contains(err.Error(), r.ID.String()) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, ok, _ := s.Get(context.Background(), tiles.ID{Z: 3}); ok {
		t.Error("half of a refused batch was kept")
	}
}

func TestRenew(t *testing.T) {
	_, s := open(t, t.TempDir())
	ctx := context.Background()
	want := image(3, 1, 1, 1, 100)
	var gone *store.NotHeld
	if err := s.Renew(ctx, []store.Record{want}); !errors.As(err, &gone) || gone.Tile != "3/1/1" {
		t.Errorf("renewed on an unwritten shelf: %v", err)
	}
	keep(t, s, want)
	want.Fetched, want.FreshUntil, want.ETag = want.Fetched.Add(time.Hour), want.FreshUntil.Add(2*time.Hour), `"2"`
	news := want
	news.Data = nil
	if err := s.Renew(ctx, []store.Record{news}); err != nil {
		t.Fatal(err)
	}
	if got, _, err := s.Get(ctx, want.ID); err != nil || !same(got, want) {
		t.Errorf("renewed to %+v, %v", got, err)
	}
	other := news
	other.ETag, other.ID.X = `"3"`, 2
	if err := s.Renew(ctx, []store.Record{{Tile: other.Tile}, news}); !errors.As(err, &gone) || gone.Tile != "3/2/1" {
		t.Errorf("a tile that is not held: %v", err)
	}
}

func TestMeasured(t *testing.T) {
	_, s := open(t, t.TempDir())
	if m, err := s.Measured(context.Background()); err != nil || len(m) != 0 {
		t.Errorf("unwritten shelf: %v, %v", m, err)
	}
	keep(t, s, image(3, 1, 1, 1, 100), image(3, 1, 2, 2, 200), image(3, 1, 3, 2, 200), hole(3, 2, 2), hole(7, 0, 0))
	m, err := s.Measured(context.Background())
	if err != nil || len(m) != 2 || m[3] != (store.Measure{Tiles: 3, Holes: 1, MeanBytes: 500.0 / 3}) || m[7] != (store.Measure{Tiles: 0, Holes: 1, MeanBytes: 0}) {
		t.Errorf("%v, %v", m, err)
	}
}

package folder

import (
	"context"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// Tiles of the shelf whose house is kept: those of even columns stay.
const houseTiles = 600

func houseRecord(n uint32) store.Held { return image(20, n, 7, uint64(n), 2000+int(n%9)*1500) }

// keepHouse drops every other tile in small steps, gives the room back, fills
// it again, and so on until it is killed.
func keepHouse(dir string) {
	st, err := Open(dir)
	if err != nil {
		panic(err)
	}
	s, _ := st.shelf("house")
	for ctx := context.Background(); ; {
		var gone []tiles.ID
		var again []store.Held
		for n := uint32(1); n < houseTiles; n += 2 {
			gone = append(gone, houseRecord(n).ID)
			again = append(again, houseRecord(n))
		}
		for step := range slices.Chunk(gone, 50) {
			if err := s.Drop(ctx, step); err != nil {
				panic(err)
			}
		}
		if _, err := s.GiveBack(ctx); err != nil {
			panic(err)
		}
		if _, err := s.Orphans(ctx, true); err != nil {
			panic(err)
		}
		if _, err := s.Keep(ctx, again); err != nil {
			panic(err)
		}
	}
}

// killAfter runs this test binary in a role and kills it after a while.
func killAfter(t *testing.T, role, dir string, after time.Duration) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), role+"="+dir)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(after, func() { cmd.Process.Kill() })
	cmd.Wait()
	if complaint.Len() > 0 {
		t.Fatalf("it failed by itself: %s", complaint.String())
	}
}

func sound(t *testing.T, s *Shelf) {
	t.Helper()
	if flaws, err := s.Sound(t.Context()); err != nil || len(flaws) > 0 {
		t.Fatalf("after a kill: %v %v", flaws, err)
	}
}

// killsHere is how often a test kills: more before a release.
func killsHere(few, many int) int {
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		return many
	}
	return few
}

// Pruning that is killed takes only what it was told to take.
func TestKilledHouse(t *testing.T) {
	dir := t.TempDir()
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	st, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	s, _ := st.shelf("house")
	var recs []store.Held
	for n := range uint32(houseTiles) {
		recs = append(recs, houseRecord(n))
	}
	keep(t, s, recs...)
	st.Close()
	seen := map[int]bool{} // numbers of tiles held after a kill
	for range killsHere(12, 50) {
		killAfter(t, "STORE_TEST_HOUSE", dir, time.Duration(20+rng.IntN(250))*time.Millisecond)
		st, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		s, _ := st.shelf("house")
		sound(t, s)
		held := 0
		for n := range uint32(houseTiles) {
			want := houseRecord(n)
			got, ok, err := s.Get(t.Context(), want.ID)
			if err != nil || ok && !same(got, want) || !ok && n%2 == 0 {
				t.Fatalf("tile %d: held %v, %v", n, ok, err)
			}
			if ok {
				held++
			}
		}
		seen[held] = true
		if n, err := s.Orphans(t.Context(), false); err != nil || n > 0 {
			t.Fatalf("%d images without a tile, %v", n, err)
		}
		st.Close()
	}
	t.Logf("tiles held after the kills: %v", slices.Sorted(maps.Keys(seen)))
}

// oldSchema is that of version 3, with a write-ahead log and small pages.
const oldSchema = `CREATE TABLE images (id INTEGER PRIMARY KEY, hash BLOB NOT NULL UNIQUE, data BLOB NOT NULL);
	CREATE TABLE tiles (z INTEGER NOT NULL, y INTEGER NOT NULL, x INTEGER NOT NULL, image INTEGER REFERENCES images(id),
	 hash BLOB, bytes INTEGER NOT NULL, media TEXT NOT NULL, source TEXT NOT NULL, fetched INTEGER NOT NULL, fresh_until INTEGER NOT NULL,
	 etag TEXT NOT NULL, last_modified TEXT NOT NULL, no_transform INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (z, y, x)) WITHOUT ROWID;
	CREATE INDEX tiles_image ON tiles(image) WHERE image IS NOT NULL;
	CREATE TABLE runs (ended INTEGER NOT NULL, requests INTEGER NOT NULL, micros INTEGER NOT NULL);
	PRAGMA application_id=1196643156; PRAGMA user_version=3;`

// writeOld makes a file of version 3 with the tiles of the house.
func writeOld(t *testing.T, path string) {
	t.Helper()
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc", Pragmas: []string{"journal_mode=WAL"}})
	defer db.Close()
	if _, err := db.Exec(oldSchema); err != nil {
		t.Fatal(err)
	}
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	for n := range uint32(houseTiles) {
		r, err := store.Checked(houseRecord(n))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := tx.Exec(`INSERT INTO images VALUES (?, ?, ?)`, n, r.Hash[:], r.Data); err != nil {
			t.Fatal(err)
		}
		if _, err := tx.Exec(`INSERT INTO tiles VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0)`, r.Z, r.Y, r.X, n, r.Hash[:], r.Bytes, r.Media,
			r.Source, store.Micros(r.Fetched), store.Micros(r.FreshUntil), r.ETag, r.LastModified); err != nil {
			t.Fatal(err)
		}
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
}

// upgrade opens a shelf for writing, which brings its file up to date, and has
// it written anew: its room cannot be given back in steps.
func upgrade(dir string) {
	st, err := Open(dir)
	if err != nil {
		panic(err)
	}
	s, _ := st.shelf("house")
	ctx := context.Background()
	if err := s.Drop(ctx, []tiles.ID{houseRecord(houseTiles - 1).ID}); err != nil {
		panic(err)
	}
	if _, err := s.GiveBack(ctx); err != nil {
		panic(err)
	}
	if err := st.Close(); err != nil {
		panic(err)
	}
}

// An upgrade that is killed leaves the file of before or the one of after.
func TestKilledUpgrade(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	old := filepath.Join(t.TempDir(), "old.sqlite")
	writeOld(t, old)
	first, err := os.ReadFile(old)
	if err != nil {
		t.Fatal(err)
	}
	versions := map[int]int{}
	for range killsHere(15, 60) {
		dir := t.TempDir()
		path := filepath.Join(dir, "house.sqlite")
		if err := os.WriteFile(path, first, 0o644); err != nil {
			t.Fatal(err)
		}
		killAfter(t, "STORE_TEST_UPGRADE", dir, time.Duration(3+rng.IntN(35))*time.Millisecond)
		versions[versionOf(t, path)]++
		st, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		s, _ := st.shelf("house")
		keep(t, s, hole(1, 0, 0)) // brings it up to date
		sound(t, s)
		for n := range uint32(houseTiles - 1) {
			want := houseRecord(n)
			if got, ok, err := s.Get(t.Context(), want.ID); err != nil || !ok || !same(got, want) {
				t.Fatalf("tile %d: held %v, %v", n, ok, err)
			}
		}
		st.Close()
	}
	t.Logf("versions met after the kills: %v", versions)
}

// versionOf reads the header as the next process would, after what the killed
// one began was taken back.
func versionOf(t *testing.T, path string) (v int) {
	t.Helper()
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	defer db.Close()
	if err := db.QueryRow(`PRAGMA user_version`).Scan(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

package folder

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

const asideTiles = 1500

// brokenShelf has tiles of three zooms and a spent budget, and another shelf
// beside it. The file is closed; break it and open the store again.
func brokenShelf(t *testing.T, harm func(path string, root func(table string) int64)) (*Store, *Shelf) {
	t.Helper()
	dir := t.TempDir()
	st, s := open(t, dir)
	var recs []store.Held
	for i := range uint32(asideTiles) {
		recs = append(recs, image(18+i%3, i, i/40, uint64(i), 1500))
	}
	keep(t, s, append(recs, hole(20, 9, 99999))...)
	lease, err := s.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lease.Spend(t.Context(), "2026-11-25", 77, 0); err != nil {
		t.Fatal(err)
	}
	if err := lease.Release(t.Context(), store.RateState{}); err != nil {
		t.Fatal(err)
	}
	other, err := st.shelf("other-1")
	if err != nil {
		t.Fatal(err)
	}
	keep(t, other, image(3, 1, 1, 5, 900))
	roots := map[string]int64{}
	for _, table := range []string{"tiles", "images", "tiles_image"} {
		roots[table] = int64(count(t, s, `SELECT rootpage FROM sqlite_schema WHERE name = '`+table+`'`))
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	harm(s.path, func(table string) int64 { return (roots[table] - 1) * pageSize })
	return open(t, dir)
}

// overwrite puts nonsense over a part of a file.
func overwrite(t *testing.T, path string, at, n int64) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt(bytes.Repeat([]byte{0xa5}, int(n)), at); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// leaves are the leaf pages of a kind (13 = of a table, 10 = of an index, as
// the table of tiles is one; SQLite, "Database File Format", 1.6) that hold a
// text.
func leaves(t *testing.T, path string, kind byte, text string) (offsets []int64) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for at := pageSize; at+pageSize <= len(data); at += pageSize {
		if data[at] == kind && bytes.Contains(data[at:at+pageSize], []byte(text)) {
			offsets = append(offsets, int64(at))
		}
	}
	return offsets
}

// TestQuarantine breaks a file in many ways: what can be read is saved and
// proves, the budget too, the damaged file stands aside, other shelves stay.
func TestQuarantine(t *testing.T) {
	type root = func(string) int64
	cases := map[string]struct {
		harm  func(path string, root root)
		least int  // that are saved
		spent bool // the budget is saved
	}{
		"nothing":             {func(string, root) {}, asideTiles + 1, true},
		"a leaf of the tiles": {func(p string, _ root) { l := leaves(t, p, 10, `W/"1"`); overwrite(t, p, l[len(l)/4], pageSize) }, asideTiles / 2, true},
		"three leaves of them": {func(p string, _ root) {
			l := leaves(t, p, 10, `W/"1"`)
			overwrite(t, p, l[0], 100)
			overwrite(t, p, l[2], 100)
			overwrite(t, p, l[4], 100)
		}, asideTiles / 2, true},
		"the index of images":  {func(p string, r root) { overwrite(t, p, r("tiles_image"), 200) }, asideTiles + 1, true},
		"a leaf of the images": {func(p string, _ root) { l := leaves(t, p, 13, ""); overwrite(t, p, l[len(l)/2], pageSize) }, asideTiles - 20, true},
		"inside an image":      {func(p string, _ root) { l := leaves(t, p, 13, ""); overwrite(t, p, l[len(l)/2]+12000, 8) }, asideTiles - 2, true},
		"cut in half":          {func(p string, _ root) { truncate(t, p, 2) }, 100, false},
		"the root of tiles":    {func(p string, r root) { overwrite(t, p, r("tiles"), pageSize) }, 0, true},
		"garbage":              {func(p string, _ root) { _ = os.WriteFile(p, bytes.Repeat([]byte("no database "), 9999), 0o600) }, 0, false},
		"empty":                {func(p string, _ root) { _ = os.WriteFile(p, nil, 0o600) }, 0, false},
		"a strange journal":    {func(p string, _ root) { _ = os.WriteFile(p+"-journal", []byte("no journal at all"), 0o600) }, asideTiles + 1, true},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			st, s := brokenShelf(t, c.harm)
			broken, err := os.ReadFile(s.path)
			if err != nil {
				t.Fatal(err)
			}
			aside, saved, err := st.Quarantine(t.Context(), s.Name())
			if err != nil || saved < int64(c.least) || saved > asideTiles+1 {
				t.Fatalf("saved %d, at least %d should be: %v", saved, c.least, err)
			}
			if moved, err := os.ReadFile(aside); err != nil || !bytes.HasPrefix(moved, broken) || !strings.HasPrefix(filepath.Base(aside), s.Name()+".sqlite.damaged-") {
				t.Errorf("set aside as %s: %d bytes of %d, %v", aside, len(moved), len(broken), err)
			}
			held := 0
			for r, err := range s.All(t.Context(), true) {
				if err != nil {
					t.Fatal(err)
				}
				want := hole(20, 9, 99999)
				if !r.Hole {
					want = image(r.Z, r.X, r.Y, uint64(r.X), 1500)
				}
				if !same(r, want) {
					t.Fatalf("%v was saved as another", r.ID)
				}
				held++
			}
			flaws, err := s.Sound(t.Context())
			if held != int(saved) || err != nil || len(flaws) > 0 {
				t.Errorf("%d held, %d saved, %v, %v", held, saved, flaws, err)
			}
			if n, err := s.Spent(t.Context(), "2026-11-25"); err != nil || c.spent && n != 77 {
				t.Errorf("of the budget %d is spent, %v", n, err)
			}
			keep(t, s, image(18, 0, 0, 1, 10)) // usable
			other, err := st.shelf("other-1")
			if err != nil || len(all(t, other, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 0, Last: 7}}), true)) != 1 {
				t.Errorf("the other shelf: %v", err)
			}
			if names, err := st.Shelves(t.Context()); err != nil || len(names) > 2 {
				t.Errorf("%v %v", names, err)
			}
			t.Logf("%d of %d saved", saved, asideTiles+1)
		})
	}
}

func truncate(t *testing.T, path string, part int64) {
	t.Helper()
	if err := os.Truncate(path, fileSize(path)/part); err != nil {
		t.Fatal(err)
	}
}

// TestQuarantineWaitsForNobody: while a run fetches, the file is left alone.
func TestQuarantineWaitsForNobody(t *testing.T) {
	st, s := open(t, t.TempDir())
	keep(t, s, image(3, 1, 1, 5, 900))
	lease, err := s.Lease(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = st.Quarantine(t.Context(), s.Name())
	if err == nil || !strings.Contains(err.Error(), "another run") {
		t.Errorf("%v", err)
	}
	if err := lease.Release(context.Background(), store.RateState{}); err != nil {
		t.Fatal(err)
	}
	if _, saved, err := st.Quarantine(t.Context(), s.Name()); err != nil || saved != 1 {
		t.Errorf("%d, %v", saved, err)
	}
}

// TestHotJournal: a journal left by a writer that was cut off is played back
// when the shelf is opened, and nothing needs mending.
func TestHotJournal(t *testing.T) {
	dir := t.TempDir()
	st, s := open(t, dir)
	keep(t, s, image(3, 1, 1, 5, 900), image(3, 2, 1, 6, 900))
	db, err := s.handle(t.Context(), true)
	if err != nil {
		t.Fatal(err)
	}
	tx, err := db.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tx.Exec(`PRAGMA cache_spill=1`); err != nil {
		t.Fatal(err)
	}
	for i := range 600 { // more than the cache: it goes into the file, guarded by the journal
		if _, err := tx.Exec(`INSERT INTO images (hash, data) VALUES (?, zeroblob(16000))`, time.Now().Add(time.Duration(i)).String()); err != nil {
			t.Fatal(err)
		}
	}
	copied := t.TempDir()
	for _, end := range []string{"", "-journal"} {
		data, err := os.ReadFile(s.path + end)
		if err != nil || len(data) == 0 {
			t.Fatalf("%d bytes of %q, %v: the test does not test", len(data), end, err)
		}
		if err := os.WriteFile(filepath.Join(copied, filepath.Base(s.path)+end), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	_, s = open(t, copied)
	flaws, err := s.Sound(t.Context())
	if n := len(all(t, s, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 0, Last: 7}}), true)); n != 2 || err != nil || len(flaws) > 0 {
		t.Errorf("%d tiles, %v, %v", n, flaws, err)
	}
}

package verify

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// picture is a small JPEG of one color.
func picture(t *testing.T, shade int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 32, 32))
	for i := range 32 * 32 {
		img.Set(i%32, i/32, color.RGBA{uint8(shade), uint8(shade / 2), uint8(i), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const perShelf = 40

// filled is a store with two shelves, closed.
func filled(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"county-1", "state-2"} {
		shelf, err := st.Shelf(name)
		if err != nil {
			t.Fatal(err)
		}
		var recs []store.Held
		for i := range uint32(perShelf) {
			recs = append(recs, store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 10, X: i}, Data: picture(t, int(i/2))}, Media: "jpg"})
		}
		recs = append(recs, store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 11}}, Hole: true})
		if _, err := shelf.Keep(t.Context(), recs); err != nil {
			t.Fatal(err)
		}
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

func prove(t *testing.T, dir string, mend bool) []ShelfReport {
	t.Helper()
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	out, err := Run(t.Context(), st, Options{Mend: mend})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func exec(query string, args ...any) func(*testing.T, string) {
	return func(t *testing.T, path string) {
		t.Helper()
		db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
		defer db.Close()
		if r, err := db.Exec(query, args...); err != nil {
			t.Fatal(err)
		} else if n, _ := r.RowsAffected(); n == 0 {
			t.Fatalf("nothing changed by %s", query)
		}
	}
}

// TestSound: nothing is found in a good store, and it is not written to.
func TestSound(t *testing.T) {
	for _, s := range prove(t, filled(t), false) {
		if s.Flaws() != 0 || s.Tiles != perShelf || s.Holes != 1 || len(s.Findings) != 0 {
			t.Errorf("%+v", s)
		}
	}
}

// TestAhead: a time to come is no flaw of the store, and is counted.
func TestAhead(t *testing.T) {
	dir := t.TempDir()
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	shelf, err := st.Shelf("county-1")
	if err != nil {
		t.Fatal(err)
	}
	var recs []store.Held
	for i, ahead := range []time.Duration{-time.Hour, 23 * time.Hour, 25 * time.Hour, 10000 * time.Hour} {
		at := tiles.Origin{Fetched: time.Now().Add(ahead)}
		recs = append(recs, store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 10, X: uint32(i)}, Data: picture(t, i), Origin: at}, Media: "jpg"})
	}
	recs = append(recs, store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 11}, Origin: tiles.Origin{Fetched: time.Now().AddDate(1000, 0, 0)}}, Hole: true})
	if _, err := shelf.Keep(t.Context(), recs); err != nil {
		t.Fatal(err)
	}
	for _, s := range prove(t, dir, true) {
		if s.Flaws() != 0 || s.Mended != 0 || s.Ahead != 3 || s.Tiles != 4 {
			t.Errorf("%+v", s)
		}
	}
}

// TestFlaws damages one shelf in many ways: each is found, and mended; the
// other shelf stays as it is.
func TestFlaws(t *testing.T) {
	cases := map[string]struct {
		harm  func(*testing.T, string)
		kind  string
		found int
		left  int64 // images in place after mending, at least
	}{
		"a bit in an image":    {exec(`UPDATE images SET data = CAST(substr(data, 1, 300) || x'00' || substr(data, 302) AS BLOB) WHERE id = 3`), Changed, 2, perShelf - 2},
		"an image is gone":     {exec(`PRAGMA foreign_keys=OFF; DELETE FROM images WHERE id = 3`), Lost, 2, perShelf - 2},
		"another hash":         {exec(`UPDATE tiles SET hash = zeroblob(32) WHERE x = 5`), Changed, 1, perShelf - 1},
		"another kind":         {exec(`UPDATE tiles SET media = 'png' WHERE x = 5`), Mistaken, 1, perShelf - 1},
		"another length":       {exec(`UPDATE tiles SET bytes = 5 WHERE x = 5`), Mistaken, 1, perShelf - 1},
		"images no tile uses":  {exec(`DELETE FROM tiles WHERE x BETWEEN 10 AND 19`), Orphans, 1, perShelf - 10},
		"a page of the engine": {pageOf("tiles"), File, 0, 0},
		"a broken index":       {pageOf("tiles_image"), File, 0, perShelf},
		"garbage":              {garbage, File, 1, 0},
		"cut in half":          {half, File, 0, 0},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			dir := filled(t)
			path, other := filepath.Join(dir, "county-1.sqlite"), filepath.Join(dir, "state-2.sqlite")
			c.harm(t, path)
			before, was := read(t, path), read(t, other)
			s := prove(t, dir, false)
			if n := s[0].Counts[c.kind]; n == 0 || c.found > 0 && n != c.found || s[0].Flaws() < n || s[1].Flaws() != 0 {
				t.Fatalf("%+v", s)
			}
			if !bytes.Equal(before, read(t, path)) || !bytes.Equal(was, read(t, other)) {
				t.Error("looking changed the file")
			}
			mended := prove(t, dir, true)
			if mended[0].Flaws() != 0 || mended[0].Mended == 0 {
				t.Errorf("mending: %+v", mended[0])
			}
			if (mended[0].Aside != nil) != (c.kind == File) {
				t.Errorf("set aside: %v", mended[0].Aside)
			}
			for _, s := range prove(t, dir, false) {
				if s.Flaws() != 0 || s.Name == "state-2" && s.Tiles != perShelf || s.Name == "county-1" && s.Tiles < c.left {
					t.Errorf("after mending: %+v", s)
				}
			}
		})
	}
}

// TestBroken: an image that is kept as it came, and does not decode.
func TestBroken(t *testing.T) {
	dir := filled(t)
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	shelf, err := st.Shelf("county-1")
	if err != nil {
		t.Fatal(err)
	}
	whole := picture(t, 7)
	cut := append(append([]byte{}, whole[:len(whole)*2/3]...), 0xff, 0xd9)
	rec := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: 12}, Data: cut}, Media: "jpg"}
	if _, err := shelf.Keep(t.Context(), []store.Held{rec}); err != nil {
		t.Fatal(err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	if s := prove(t, dir, true)[0]; s.Counts[Broken] != 1 || s.Flaws() != 0 || *s.Findings[0].Tile != rec.ID {
		t.Errorf("%+v", s)
	}
	if s := prove(t, dir, false)[0]; s.Flaws() != 0 || s.Tiles != perShelf {
		t.Errorf("%+v", s)
	}
}

// TestRegister: a damaged register is set aside, and the jobs that can be read
// are saved.
func TestRegister(t *testing.T) {
	for name, c := range map[string]struct {
		harm func(*testing.T, string)
		left int
	}{
		"one job unreadable": {exec(`UPDATE jobs SET covers = 'nonsense' WHERE base = 1`), 2},
		"garbage":            {garbage, 0},
	} {
		t.Run(name, func(t *testing.T) {
			dir := filled(t)
			path := filepath.Join(dir, "jobs.register")
			st, err := folder.Open(dir)
			if err != nil {
				t.Fatal(err)
			}
			for i := range 3 {
				j := store.PackedJob{Key: "desk:/site", Base: i, Shelf: "county-1", Covers: []tiles.Cover{tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 4}})}}
				if err := st.NoteJob(t.Context(), j); err != nil {
					t.Fatal(err)
				}
			}
			if err := st.Close(); err != nil {
				t.Fatal(err)
			}
			if s := prove(t, dir, false); len(s) != 2 {
				t.Fatalf("a sound register: %+v", s)
			}
			c.harm(t, path)
			if s := prove(t, dir, false); len(s) != 3 || s[0].Name != Register || s[0].Flaws() == 0 || s[0].Aside != nil {
				t.Fatalf("%+v", s)
			}
			if s := prove(t, dir, true); s[0].Flaws() != 0 || s[0].Saved != int64(c.left) || s[0].Aside == nil {
				t.Errorf("%+v", s[0])
			}
			if s := prove(t, dir, false); len(s) != 2 {
				t.Errorf("after mending: %+v", s)
			}
			if st, err = folder.Open(dir); err != nil {
				t.Fatal(err)
			}
			defer st.Close()
			if jobs, err := st.Jobs(t.Context()); err != nil || len(jobs) != c.left {
				t.Errorf("%+v, %v", jobs, err)
			}
		})
	}
}

// bare is a store that cannot set a file aside.
type bare struct{ store.Store }

// TestCannotQuarantine: then the images are proved all the same, and the flaw of
// the engine stays one.
func TestCannotQuarantine(t *testing.T) {
	dir := filled(t)
	pageOf("tiles_image")(t, filepath.Join(dir, "county-1.sqlite"))
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s, err := Run(t.Context(), bare{st}, Options{Mend: true})
	if err != nil || len(s) != 2 || s[0].Tiles != perShelf || s[0].Flaws() == 0 || s[0].Aside != nil || s[1].Flaws() != 0 {
		t.Errorf("%+v, %v", s, err)
	}
}

// TestForeign: another program's file is named and left alone.
func TestForeign(t *testing.T) {
	dir := filled(t)
	path := filepath.Join(dir, "county-1.sqlite")
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE theirs (a); INSERT INTO theirs VALUES (1)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	before := read(t, path)
	s := prove(t, dir, true)
	if s[0].Counts[Foreign] != 1 || s[0].Flaws() != 1 || s[0].Aside != nil || s[1].Tiles != perShelf || !bytes.Equal(before, read(t, path)) {
		t.Errorf("%+v", s)
	}
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// pageOf breaks the root page of a table or an index.
func pageOf(table string) func(*testing.T, string) {
	return func(t *testing.T, path string) {
		t.Helper()
		db := sqlite.Open(path, sqlite.Options{Settings: "mode=ro"})
		var page, size int64
		if err := db.QueryRow(`SELECT rootpage, page_size FROM sqlite_schema, pragma_page_size WHERE name = ?`, table).Scan(&page, &size); err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		data := read(t, path)
		copy(data[(page-1)*size:], strings.Repeat("\xa5", 3000))
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func garbage(t *testing.T, path string) {
	t.Helper()
	if err := os.WriteFile(path, bytes.Repeat([]byte("garbage "), 9000), 0o600); err != nil {
		t.Fatal(err)
	}
}

func half(t *testing.T, path string) {
	t.Helper()
	if err := os.Truncate(path, int64(len(read(t, path))/2)); err != nil {
		t.Fatal(err)
	}
}

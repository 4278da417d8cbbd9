package folder

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/storetest"
)

// fillUntilFull keeps batches until the store refuses and gives the number of
// tiles it took.
func fillUntilFull(t *testing.T, s *Shelf) (kept uint32) {
	t.Helper()
	for ; kept < 4000; kept += 8 {
		var recs []store.Held
		for i := range uint32(8) {
			recs = append(recs, image(20, kept+i, 0, uint64(kept+i), 20000))
		}
		_, err := s.Keep(context.Background(), recs)
		if err == nil {
			continue
		}
		if !errors.Is(err, store.DiskFull) {
			t.Fatalf("after %d tiles: %v (%T), want a DiskFull with the path", kept, err, err)
		}
		for _, w := range []string{s.path, "free some room", "run again"} {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("message %q lacks %q", err, w)
			}
		}
		return kept
	}
	t.Fatal("80 MB fitted into the quota")
	return 0
}

func holdsExactly(t *testing.T, s *Shelf, kept uint32) {
	t.Helper()
	held := all(t, s, tiles.NewCover(20, []tiles.Span{{Row: 0, First: 0, Last: 9999}}), true)
	if uint32(len(held)) != kept || kept == 0 {
		t.Errorf("%d tiles held, %d were kept", len(held), kept)
	}
}

// The quota of SQLite itself: the same error code as a full disk.
func TestQuotaFull(t *testing.T) {
	st, _ := open(t, t.TempDir())
	st.limits = []string{"max_page_count=300"}
	s, err := st.shelf("quota")
	if err != nil {
		t.Fatal(err)
	}
	kept := fillUntilFull(t, s)
	holdsExactly(t, s, kept)
	if _, err := s.Keep(context.Background(), []store.Held{hole(1, 1, 1)}); err != nil {
		t.Errorf("a small write after a refused one: %v", err)
	}
}

func TestFolderOnFullDiskOrNotAFolder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	os.WriteFile(file, nil, 0o600)
	if _, err := Open(filepath.Join(file, "store")); err == nil || !strings.Contains(err.Error(), file) || !strings.Contains(err.Error(), "choose a folder") {
		t.Errorf("store inside a file: %v", err)
	}
	if err := folderFault("/x", &os.PathError{Op: "mkdir", Path: "/x", Err: syscall.ENOSPC}); !errors.Is(err, store.DiskFull) {
		t.Errorf("no room for the folder: %v", err)
	}
}

func TestFilesThatAreNoStore(t *testing.T) {
	foreign := func(path string) {
		db, err := sql.Open("sqlite3", path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec("CREATE TABLE a (b)"); err != nil {
			t.Fatal(err)
		}
	}
	newer := func(path string) {
		foreign(path)
		db, _ := sql.Open("sqlite3", path)
		defer db.Close()
		db.Exec(fmt.Sprintf("PRAGMA application_id=%d", shelfKind))
		db.Exec("PRAGMA user_version=99")
	}
	cases := []struct {
		name string
		make func(path string)
		is   func(error) bool
		want []string
	}{
		{"text", func(p string) { os.WriteFile(p, bytes.Repeat([]byte("no database "), 500), 0o600) },
			func(err error) bool { return errors.Is(err, store.Damaged) }, []string{"damaged", "store verify --mend"}},
		{"another program's", foreign, func(error) bool { return true }, []string{"another program", "move it"}},
		{"newer", newer, func(err error) bool { return errors.Is(err, store.Newer) }, []string{"newer version", "format 99"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, s := open(t, t.TempDir())
			c.make(s.path)
			before, _ := os.ReadFile(s.path)
			_, _, getErr := s.Get(context.Background(), tiles.ID{})
			_, keepErr := s.Keep(context.Background(), []store.Held{hole(0, 0, 0)})
			for verb, err := range map[string]error{"Get": getErr, "Keep": keepErr} {
				if err == nil || !c.is(err) {
					t.Fatalf("%s: %v (%T)", verb, err, err)
				}
				for _, w := range append(c.want, s.path) {
					if !strings.Contains(err.Error(), w) {
						t.Errorf("%s: message %q lacks %q", verb, err, w)
					}
				}
			}
			if after, _ := os.ReadFile(s.path); !bytes.Equal(before, after) {
				t.Error("the file was changed")
			}
		})
	}
}

// damage overwrites n bytes of the closed store file.
func damage(t *testing.T, path string, at func(data []byte) int, n int) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	from := at(data)
	for i := range n {
		data[from+i] ^= 0xff
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestDamagedFile(t *testing.T) {
	whole := tiles.NewCover(20, []tiles.Span{{Row: 0, First: 0, Last: 9999}})
	mark := image(20, 7, 0, 7, 4000).Data[2000:2016]
	var root int // page of the table of tiles
	for name, at := range map[string]func([]byte) int{
		"a page header":   func([]byte) int { return (root - 1) * pageSize },
		"inside an image": func(d []byte) int { return bytes.Index(d, mark) },
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			st, s := open(t, dir)
			for i := range uint32(50) {
				keep(t, s, image(20, i, 0, uint64(i), 4000))
			}
			root = count(t, s, `SELECT rootpage FROM sqlite_schema WHERE name = 'tiles'`)
			st.Close()
			damage(t, s.path, at, 8)
			_, s = open(t, dir)
			var err error
			for _, e := range s.In(context.Background(), whole, true) {
				err = e
			}
			if !errors.Is(err, store.Damaged) || !strings.HasPrefix(err.Error(), s.path) || !strings.Contains(err.Error(), "store verify --mend") {
				t.Errorf("%v (%T), want a Damaged with path and remedy", err, err)
			}
		})
	}
}

// A damaged page ends fetching: nothing behind it is asked for again.
func TestDamagedPageEndsFetching(t *testing.T) {
	dir := t.TempDir()
	st, s := open(t, dir)
	var recs []store.Held
	for x := range uint32(6000) {
		if x%50 != 0 {
			recs = append(recs, image(20, x, 0, uint64(x), 100))
		}
	}
	keep(t, s, recs...)
	st.Close()
	pages := leaves(t, s.path, 10, `W/"1"`)
	overwrite(t, s.path, pages[len(pages)/2], 16384)
	_, s = open(t, dir)
	storetest.FailingRead(t, s, tiles.NewCover(20, []tiles.Span{{Row: 0, First: 0, Last: 9999}}))
}

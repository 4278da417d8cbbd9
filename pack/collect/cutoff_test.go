package collect_test

import (
	"os"
	"path/filepath"
	"testing"

	"groundsheet/pack/collect"
	"groundsheet/tiles/sqlite"
)

// A book whose laptop was cut off in the middle of a commit comes home with all that was
// confirmed, when its journal comes along; the files that came are left as they are.
func TestCutOff(t *testing.T) {
	dir, at := site(t), t.TempDir()
	book := filepath.Join(at, "laptop", "valve-12.fieldbook")
	write(t, filepath.Join(at, "laptop", "x"), "")
	add(t, book, reading("a", 0, 1, nil), reading("b", 1, 2, nil))
	db := sqlite.Open(book, sqlite.Options{Settings: "mode=rw", Pragmas: []string{"cache_size=4"}})
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 60 {
		if _, err := tx.Exec(`INSERT INTO piece VALUES(?, ?, randomblob(20000))`, id("p"), i); err != nil {
			t.Fatal(err)
		}
	}
	stick := filepath.Join(at, "valve-12.fieldbook")
	for _, ending := range []string{"", "-journal"} {
		data, err := os.ReadFile(book + ending)
		if err != nil {
			t.Fatal(err)
		}
		write(t, stick+ending, string(data))
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	before := files(t, at)
	if r := run(t, dir, stick); r.Marks != 2 || r.Books[0].State != collect.New {
		t.Errorf("%+v", r)
	}
	same(t, before, files(t, at))
	if r := run(t, dir, book); r.Written || r.Books[0].State != collect.Same {
		t.Errorf("%+v", r)
	}
}

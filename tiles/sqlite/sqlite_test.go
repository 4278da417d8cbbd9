package sqlite

import (
	"os"
	"path/filepath"
	"testing"
)

// TestAnyPath: a name that a careless address would cut or change.
func TestAnyPath(t *testing.T) {
	for _, name := range []string{"plain", "a b", "50%20x", "what?x=1", "tag#1", "ümlaut", "[1]*"} {
		path := filepath.Join(t.TempDir(), name)
		db := Open(path, Options{Settings: "mode=rwc"})
		if _, err := db.Exec(`CREATE TABLE t(a)`); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
		if _, err := os.Stat(path); err != nil {
			t.Errorf("%s: the file has another name: %v", name, err)
		}
	}
}

// TestReadOnlyIsKept: a bare path would drop mode=ro without a word.
func TestReadOnlyIsKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	db := Open(path, Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE t(a)`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = Open(path, Options{Settings: "mode=ro&immutable=1", Pragmas: []string{"trusted_schema=OFF"}, Longest: 1000})
	defer db.Close()
	if _, err := db.Exec(`INSERT INTO t VALUES(1)`); Sort(err) != Denied {
		t.Errorf("a write into a read-only file: %v", err)
	}
	var trusted int
	if err := db.QueryRow(`PRAGMA trusted_schema`).Scan(&trusted); err != nil || trusted != 0 {
		t.Errorf("trusted_schema %d, %v", trusted, err)
	}
	if err := db.QueryRow(`SELECT hex(zeroblob(5000))`).Scan(new(string)); Sort(err) != TooLong {
		t.Errorf("a value beyond the limit: %v", err)
	}
}

func TestSort(t *testing.T) {
	text := filepath.Join(t.TempDir(), "text")
	if err := os.WriteFile(text, []byte("this is no database, whatever its name says ........................................................"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := Open(text, Options{Settings: "mode=ro"}).Exec(`SELECT * FROM sqlite_schema`)
	if Sort(err) != Damaged {
		t.Errorf("no database: %v", err)
	}
	_, err = Open(filepath.Join(t.TempDir(), "none"), Options{Settings: "mode=ro"}).Exec(`SELECT 1`)
	if Sort(err) != Denied {
		t.Errorf("no file: %v", err)
	}
	db := Open(filepath.Join(t.TempDir(), "small"), Options{Settings: "mode=rwc", Pragmas: []string{"max_page_count=4"}})
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`CREATE TABLE t(a); INSERT INTO t VALUES(zeroblob(100000))`)
	if Sort(err) != NoRoom {
		t.Errorf("a full file: %v", err)
	}
}

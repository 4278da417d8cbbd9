package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/sqlite"
)

// shelfFile is the one file of tiles in the office's store.
func (o *worker) shelfFile() string {
	o.t.Helper()
	found, err := filepath.Glob(o.path("store", "*.sqlite"))
	if err != nil || len(found) != 1 {
		o.t.Fatalf("%v, %v", found, err)
	}
	return found[0]
}

// TestVerify: sound, then one image damaged, then the whole file; a run that
// meets it says what to do, and packs after mending.
func TestVerify(t *testing.T) {
	o := packedOffice(t)
	if out := o.must(0, "store", "verify"); !strings.Contains(out, "the store is sound") {
		t.Errorf("%s", out)
	}
	db := sqlite.Open(o.shelfFile(), sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`UPDATE images SET data = x'ffd8' WHERE id = 3`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	var d verifyDocument
	decode(t, o.must(exitNotFit, "store", "verify", "--json"), &d)
	if s := d.Sources[0]; s.Source != "town" || s.Flaws == 0 || s.Findings[0].Tile == nil || s.Findings[0].Mended {
		t.Errorf("%+v", s)
	}
	if out := o.must(exitNotFit, "store", "verify"); !strings.Contains(out, "--mend") {
		t.Errorf("%s", out)
	}
	decode(t, o.must(0, "store", "verify", "--mend", "--json"), &d)
	if s := d.Sources[0]; s.Flaws != 0 || s.Mended == 0 || s.Aside != nil {
		t.Errorf("%+v", s)
	}
	mended := d.Sources[0].Mended
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if int(p.Fetched) != mended {
		t.Errorf("%d tiles went, %d were fetched again", mended, p.Fetched)
	}
}

// TestDamagedShelf sets a file aside that is no file of a database any more.
func TestDamagedShelf(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	o := packedOffice(t)
	shelf := o.shelfFile()
	if err := os.WriteFile(shelf, bytes.Repeat([]byte("no database "), 9000), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"pack", o.path("site")}, {"prune", "--closed"}} {
		if code, _, errText := o.do(args...); code != exitOutside || !strings.Contains(errText, "store verify --mend") {
			t.Errorf("%v: exit %d: %s", args, code, errText)
		}
	}
	if out := o.must(0, "store", "show"); !strings.Contains(out, "is damaged") {
		t.Errorf("%s", out)
	}
	out := o.must(exitNotFit, "store", "verify")
	if !strings.Contains(out, "town: file:") {
		t.Errorf("%s", out)
	}
	out = o.must(0, "store", "verify", "--mend")
	if aside, _ := filepath.Glob(shelf + ".damaged-*[0-9]"); len(aside) != 1 || !strings.Contains(out, "saved from it: 0 records") {
		t.Errorf("%v\n%s", aside, out)
	}
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Fetched != p.Wanted {
		t.Errorf("%+v", p)
	}
}

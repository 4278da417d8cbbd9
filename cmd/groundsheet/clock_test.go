package main

import (
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/sqlite"
)

// TestClockIsNamed: a store filled under a clock that ran a year ahead is named
// by every command that looks at it, and mended by packing again.
func TestClockIsNamed(t *testing.T) {
	o := packedOffice(t)
	files, err := filepath.Glob(filepath.Join(o.at, "*.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	const year = "31557600000000"
	for _, path := range files {
		db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
		_, _ = db.Exec("UPDATE tiles SET fetched = fetched + " + year + ", fresh_until = fresh_until + " + year) // the register has no tiles
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	const words = "fetched later than this computer's clock reads"
	for name, args := range map[string][]string{"plan": {"plan", o.path("site")}, "verify": {"store", "verify"}} {
		if out := o.must(0, args...); !strings.Contains(out, words) {
			t.Errorf("%s:\n%s", name, out)
		}
	}
	if out := o.must(0, "store", "show"); !strings.Contains(out, "later than this computer's clock reads") {
		t.Errorf("%s", out)
	}
	code, out, said := o.do("pack", o.path("site"))
	if code != 0 || strings.Contains(out, "nothing was fetched") || !strings.Contains(said, words) {
		t.Errorf("%d %s%s", code, out, said)
	}
	for _, args := range [][]string{{"plan", o.path("site")}, {"store", "verify"}, {"store", "show"}} {
		if out := o.must(0, args...); strings.Contains(out, "clock reads") {
			t.Errorf("still named by %v:\n%s", args, out)
		}
	}
}

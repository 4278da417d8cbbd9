//go:build outside

package main

import (
	"fmt"
	"strings"
	"testing"

	"groundsheet/tiles/store/postgres/trial"
)

// onPostgres is an office that keeps its tiles in PostgreSQL, with a job packed.
func onPostgres(t *testing.T) (*worker, *trial.Server) {
	t.Helper()
	server := officeDatabase(t)
	o := newWorker(t)
	o.at = server.Address("office")
	return o.packed(), server
}

// TestOutsidePruneOnPostgres: what holds for a folder holds there.
func TestOutsidePruneOnPostgres(t *testing.T) {
	o, _ := onPostgres(t)
	prunes(t, o, false)
}

// TestOutsidePruneAgain: a database keeps the room of what was pruned, and says so;
// to prune down to the same size again takes nothing more.
func TestOutsidePruneAgain(t *testing.T) {
	o, _ := onPostgres(t)
	o.must(0, "store", "close", o.path("site"))
	before := o.store().Sources[0]
	to := fmt.Sprintf("%dB", before.Bytes*2/3)
	if out := o.must(0, "prune", "--down-to", to, "--apply"); !strings.Contains(out, "stays inside the store") {
		t.Errorf("%s", out)
	}
	once := o.store().Sources[0]
	if once.Tiles == 0 || once.Tiles >= before.Tiles {
		t.Fatalf("%d tiles of %d are left", once.Tiles, before.Tiles)
	}
	out := o.must(0, "prune", "--down-to", to, "--apply")
	if again := o.store().Sources[0]; again.Tiles < once.Tiles-1 {
		t.Errorf("pruned again to the same size: %d tiles of %d are left\n%s", again.Tiles, once.Tiles, out)
	}
}

// TestOutsideVerifyOnPostgres: sound, then one image damaged, then mended: what
// went is fetched again.
func TestOutsideVerifyOnPostgres(t *testing.T) {
	o, server := onPostgres(t)
	if out := o.must(0, "store", "verify"); !strings.Contains(out, "the store is sound") {
		t.Errorf("%s", out)
	}
	if _, err := server.Query(t.Context(), "office", `UPDATE groundsheet.images SET data = '\xffd8' WHERE hash = (SELECT min(hash::text)::bytea FROM groundsheet.images)`); err != nil {
		t.Fatal(err)
	}
	var d verifyDocument
	decode(t, o.must(exitNotFit, "store", "verify", "--json"), &d)
	if s := d.Sources[0]; s.Source != "town" || s.Counts["changed"] != 1 || s.Mended != 0 {
		t.Errorf("%+v", s)
	}
	decode(t, o.must(0, "store", "verify", "--mend", "--json"), &d)
	if s := d.Sources[0]; s.Flaws != 0 || s.Mended == 0 || s.Aside != nil {
		t.Errorf("%+v", s)
	}
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Fetched != 1 {
		t.Errorf("one tile went, %d were fetched again", p.Fetched)
	}
}

package main

import (
	"groundsheet/pack/office"
	"strings"
	"testing"
	"time"
)

func TestPrune(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	prunes(t, packedOffice(t), true)
}

// prunes: dry first, then for real; what an open job wants stays. A store gives the
// room back to the disk, or keeps it for tiles to come and says so.
func prunes(t *testing.T, o *worker, givesBack bool) {
	t.Helper()
	o.must(0, "new", o.path("next"), "--name", "Next door", "--around", "40.5,-140.4992", "--radius", "100ft", "--margin", "20ft", "--zooms", "15,20")
	o.must(0, "pack", o.path("next"))
	o.must(0, "store", "close", o.path("site"))
	// Until a day, nothing of it is proposed, and the job and the reason are named.
	day := time.Now().AddDate(0, 1, 0).Format(time.DateOnly)
	o.must(0, "store", "keep", o.path("site"), "--until", day, "--reason", "claim 24-117")
	out := o.must(0, "prune", "--closed", "--older-than", "1s", "--down-to", "1kB", "--open-too")
	if !strings.Contains(out, ", until "+day+": claim 24-117") || strings.Contains(out, "nothing to remove, ") ||
		!strings.Contains(o.must(0, "store", "show"), "kept until "+day+" (claim 24-117)") {
		t.Errorf("%s", out)
	}
	if out = o.must(0, "prune", "--closed"); !strings.Contains(out, "nothing to remove: the store takes") {
		t.Errorf("%s", out)
	}
	for _, wrong := range [][]string{
		{"--until", day}, {"--until", "2020-01-01", "--reason", "claim"}, {"--until", "soon", "--reason", "claim"},
		{"--reason", "claim"}, {}, {"--no-longer", "--until", day},
	} {
		o.must(2, append([]string{"store", "keep", o.path("site")}, wrong...)...)
	}
	o.must(0, "store", "keep", o.path("site"), "--no-longer")
	o.must(0, "store", "reopen", o.path("site"))
	if out = o.must(0, "prune", "--closed"); !strings.Contains(out, "nothing to remove: the store takes") {
		t.Errorf("%s", out)
	}
	o.must(0, "store", "close", o.path("site"))
	before := lasting(o.snapshot())
	var dry, done office.Pruned
	decode(t, o.must(0, "prune", "--closed", "--json"), &dry)
	out = o.must(0, "prune", "--closed")
	for path, hash := range lasting(o.snapshot()) {
		if before[path] != hash {
			t.Errorf("a dry run changed %s", path)
		}
	}
	if dry.Applied || dry.Tiles == 0 || dry.Estimate == 0 || dry.Freed != nil || !strings.Contains(out, "nothing was changed") {
		t.Errorf("%+v\n%s", dry, out)
	}
	decode(t, o.must(0, "prune", "--closed", "--apply", "--json"), &done)
	if !done.Applied || done.Tiles != dry.Tiles || *done.After > done.Before-done.Estimate/2 ||
		givesBack && (*done.Freed != done.Before-*done.After || *done.Freed < done.Estimate/2) {
		t.Errorf("planned %+v\ndone %+v, freed %d, after %d", dry, done, *done.Freed, *done.After)
	}
	for _, j := range o.store().Jobs {
		if open := j.Name == "Next door"; j.Open != open || (j.Held == j.Wanted) != open || j.Held == 0 {
			t.Errorf("%+v (tiles that both want stay)", j)
		}
	}
	// The open job needs nothing; the closed one fetches what went, and is open.
	var p packed
	decode(t, o.must(0, "pack", o.path("next"), "--json"), &p)
	if p.Requests != 0 {
		t.Errorf("%+v", p)
	}
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Fetched != done.Tiles {
		t.Errorf("%d went, %d fetched again", done.Tiles, p.Fetched)
	}
	// Everything is open now.
	out = o.must(0, "prune", "--down-to", "1kB", "--apply")
	if !strings.Contains(out, "for Next door in") || !strings.Contains(out, "not enough") {
		t.Errorf("%s", out)
	}
	if s := o.store().Sources[0]; s.Tiles == 0 {
		t.Error("tiles of open jobs went")
	}
	o.must(0, "prune", "--down-to", "1kB", "--open-too", "--apply")
	if s := o.store().Sources[0]; s.Tiles != 0 {
		t.Errorf("told to, and %d tiles stay", s.Tiles)
	}
}

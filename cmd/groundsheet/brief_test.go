package main

import (
	"bytes"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles/practice"
)

func TestBrief(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	var made packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &made)
	file := made.File
	out := o.must(0, "brief", file)
	pdf, page := strings.TrimSuffix(file, ".mbtiles")+".pdf", strings.TrimSuffix(file, ".mbtiles")+".html"
	if !strings.Contains(out, pdf) || !strings.Contains(out, "detail sheets at 1") {
		t.Errorf("brief says:\n%s", out)
	}
	for path, begins := range map[string]string{pdf: "%PDF-", page: "<!doctype html>"} {
		if data, err := os.ReadFile(path); err != nil || !bytes.HasPrefix(data, []byte(begins)) {
			t.Errorf("%s: %v, %.20q", path, err, data)
		}
	}
	o.must(0, "brief", file) // over the brief of before
	o.must(0, "brief", file, "-o", o.path("other.pdf"), "--paper", "A4", "--scale", "1:600")
}

// TestBriefOfAnUnfitPack: a gas record 280 m from the job makes the pack unfit;
// the brief is written all the same, says so first, and ends with 1. A job
// folder stands for its pack.
func TestBriefOfAnUnfitPack(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	job, err := os.ReadFile(o.path("site", "job.toml"))
	gas := `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[10.01,50.01],[10.02,50.01]]}}`
	if err = errors.Join(err, os.WriteFile(o.path("site", "gas.geojson"), []byte(gas), 0o644),
		os.WriteFile(o.path("site", "job.toml"), append([]byte("expected = [\"gas\"]\n"), append(job, "\n[[overlay]]\nfile = \"gas.geojson\"\nutility = \"gas\"\n"...)...), 0o644)); err != nil {
		t.Fatal(err)
	}
	o.must(1, "pack", o.path("site"))
	if out := o.must(1, "brief", o.path("site")); !strings.Contains(out, "not fit; do not take it to the site") {
		t.Errorf("brief says:\n%s", out)
	}
	pages, err := filepath.Glob(o.path("site", "out", "*.html"))
	if err != nil || len(pages) != 1 {
		t.Fatal(err, pages)
	}
	page, err := os.ReadFile(pages[0])
	first := strings.Index(string(page), "Verdict: NOT FIT")
	if err != nil || first < 0 || first > strings.Index(string(page), "Last valid day") || !strings.Contains(string(page), "lies wholly outside") || !strings.Contains(string(page), "That is not a clear") {
		t.Errorf("%v: the page does not begin with the verdict", err)
	}
}

func TestBriefRefuses(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	var made packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &made)
	for path, text := range map[string]string{"note.pdf": "a note", "n.html": "a note"} {
		if err := os.WriteFile(o.path(path), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	named := o.path("pack.pdf") // a pack under another name is still a pack
	data, err := os.ReadFile(made.File)
	if err == nil {
		err = os.WriteFile(named, data, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	before := o.snapshot()
	for name, args := range map[string][]string{
		"no pack": {}, "two packs": {made.File, made.File}, "no PDF": {made.File, "-o", o.path("b.txt")},
		"not ours": {made.File, "-o", o.path("note.pdf")}, "page not ours": {made.File, "-o", o.path("n.pdf")},
		"the pack itself": {named}, "a folder": {made.File, "-o", o.path("none", "b.pdf")},
		"scale": {made.File, "--scale", "1:x"}, "scale 0": {made.File, "--scale", "0"}, "paper": {made.File, "--paper", "a3"}, "too many": {made.File, "--scale", "1:20"},
		"no file": {o.path("none.mbtiles")},
	} {
		o.must(2, append([]string{"brief"}, args...)...)
		if !maps.Equal(before, o.snapshot()) {
			t.Fatalf("%s: the disk has changed", name)
		}
	}
}

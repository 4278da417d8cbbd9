package main

import (
	"bytes"
	"maps"
	"os"
	"strings"
	"testing"

	"groundsheet/tiles/practice"
)

func TestBrief(t *testing.T) {
	o := newOffice(t)
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

func TestBriefRefuses(t *testing.T) {
	o := newOffice(t)
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

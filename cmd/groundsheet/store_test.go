package main

import (
	"groundsheet/pack/office"
	"maps"
	"os"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/practice"
)

// packedOffice has one job, packed.
func packedOffice(t *testing.T, more ...string) *worker {
	t.Helper()
	return newWorker(t).packed(more...)
}

// packed makes a job, asks for its tiles and packs it.
func (o *worker) packed(more ...string) *worker {
	o.t.Helper()
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob(more...)
	o.must(0, "pack", o.path("site"))
	return o
}

// TestUnchangedIsNotRewritten: the pack is written again only when what decides
// it has changed, and then with the new time.
func TestUnchangedIsNotRewritten(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	o := packedOffice(t)
	old := time.Now().Add(-time.Hour).Truncate(time.Second)
	age := func() {
		if err := os.Chtimes(o.packPath(), old, old); err != nil {
			t.Fatal(err)
		}
	}
	age()
	before := o.snapshot()[o.packPath()]
	out := o.must(0, "pack", o.path("site"))
	info, err := os.Stat(o.packPath())
	if err != nil || !info.ModTime().Equal(old) || o.snapshot()[o.packPath()] != before {
		t.Errorf("%v: the pack was written again: %v", err, info.ModTime())
	}
	if !strings.Contains(out, "unchanged, not rewritten") || !strings.Contains(out, ": fit") {
		t.Errorf("%s", out)
	}
	job, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		change func()
	}{
		{"the unit", func() {
			o.write("site/job.toml", strings.Replace(string(job), `units = "us"`, `units = "metric"`, 1))
		}},
		{"an overlay", func() {
			o.write("site/w.geojson", `{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[-140.5,40.5]}}`)
			o.write("site/job.toml", string(job)+"\n[[overlay]]\nfile = \"w.geojson\"\nutility = \"water\"\n")
		}},
		{"what the overlay holds", func() {
			o.write("site/w.geojson", `{"type":"Feature","properties":{"size":"6 in"},"geometry":{"type":"Point","coordinates":[-140.5,40.5]}}`)
		}},
		{"what is said of the source", func() {
			text, _ := os.ReadFile(o.path("sources.toml"))
			o.write("sources.toml", strings.Replace(string(text), `"Invented Survey"`, `"Invented Survey, 2025"`, 1))
		}},
	} {
		age()
		c.change()
		var p struct{ Rewritten bool }
		decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
		if info, err := os.Stat(o.packPath()); err != nil || info.ModTime().Equal(old) || !p.Rewritten {
			t.Errorf("%s changed, the pack was not written again: %v", c.name, err)
		}
	}
}

func (o *worker) store() (d office.StoreReport) {
	o.t.Helper()
	decode(o.t, o.must(0, "store", "show", "--json"), &d)
	return d
}

// lasting leaves out the empty journals that the engine takes away when it
// opens a file.
func lasting(files map[string]string) map[string]string {
	maps.DeleteFunc(files, func(path, _ string) bool { return strings.HasSuffix(path, "-journal") })
	return files
}

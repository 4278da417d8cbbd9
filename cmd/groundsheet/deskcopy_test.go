package main

import (
	"bytes"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/tiles/practice"
)

// TestKilledCopy kills the desk while it copies a pack to a stick: there stands the whole
// pack under its name or none, and the next copy takes away what is left beside it.
func TestKilledCopy(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	f, err := os.OpenFile(o.packPath(), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Write(make([]byte, 32<<20)); err != nil { // behind its end: it takes longer to copy
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	stick := t.TempDir()
	left := 0
	for range 8 {
		d := startDesk(t, o, nil, "--no-browser")
		if status := d.ask("/api/jobs/"+d.oneJob()+"/copy", map[string]any{"to": stick}, nil); status != http.StatusOK {
			t.Fatal(status)
		}
		time.Sleep(time.Duration(1+rand.IntN(50)) * time.Millisecond)
		d.kill()
		entries, err := os.ReadDir(stick)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != filepath.Base(o.packPath()) {
				left++
			} else if copied, err := os.ReadFile(filepath.Join(stick, e.Name())); err != nil || !bytes.Equal(copied, whole) {
				t.Fatalf("half a copy has the name: %v", err)
			}
		}
	}
	o.must(0, "copy", o.path("site"), "--to", stick)
	if entries, err := os.ReadDir(stick); err != nil || len(entries) != 1 {
		t.Errorf("%v %v", entries, err)
	}
	if left == 0 {
		t.Error("no desk was killed while it copied: the test did not test")
	}
}

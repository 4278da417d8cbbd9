package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/tiles/practice"
)

// lines is what a running command said so far.
type lines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lines) wait(t *testing.T, want string) {
	t.Helper()
	for began := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		l.mu.Lock()
		said := l.b.String()
		l.mu.Unlock()
		if strings.Contains(said, want) {
			return
		}
		if time.Since(began) > time.Minute {
			t.Fatalf("it does not say %q:\n%s", want, said)
		}
	}
}

// TestServeFolder: what comes into a folder is served and checked, what is no
// pack is warned of, what goes is told.
func TestServeFolder(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	dir := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	var out lines
	done := make(chan int, 1)
	go func() {
		a := &app{out: &out, err: &lines{}, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
		done <- a.run(ctx, []string{"serve", dir, "--listen", "127.0.0.1:0"})
	}()
	out.wait(t, "no pack is there yet: put an .mbtiles file into "+dir)
	bad := filepath.Join(dir, "bad.mbtiles")
	if err := os.WriteFile(bad, []byte("no pack"), 0o644); err != nil {
		t.Fatal(err)
	}
	out.wait(t, "WARNING: "+bad+": the file that is there now is refused")
	in := filepath.Join(dir, "a.mbtiles")
	if err := os.Rename(o.packPath(), in); err != nil {
		t.Fatal(err)
	}
	out.wait(t, "from "+in)
	out.wait(t, "checked while serving: "+in+" is fit")
	if err := os.Remove(in); err != nil {
		t.Fatal(err)
	}
	out.wait(t, "WARNING: "+in+": the file is gone from the folder")
	stop()
	if code := <-done; code != 0 {
		t.Errorf("exit %d", code)
	}
}

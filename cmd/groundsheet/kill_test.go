package main

import (
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store/folder"
)

// ledger holds what is known to be stored, and who fetched it again.
type ledger struct {
	mu     sync.Mutex
	stored map[tiles.ID]bool
	again  []tiles.ID
	count  int64 // answers since the last look
	image  []byte
}

func (l *ledger) answers() int64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.count
}

// ServeHTTP answers every tile with an image of its own: one JPEG with the
// address in a comment.
func (l *ledger) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	id, err := tiles.ParseID(strings.TrimSuffix(strings.TrimPrefix(r.URL.Path, "/"), ".jpg"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	l.mu.Lock()
	l.count++
	if l.stored[id] {
		l.again = append(l.again, id)
	}
	l.mu.Unlock()
	comment := append([]byte{0xff, 0xfe, 0, byte(len(r.URL.Path) + 2)}, r.URL.Path...)
	w.Header().Set("Cache-Control", "max-age=3600")
	_, _ = w.Write(slices.Concat(l.image[:2], comment, l.image[2:]))
}

// look reads what the store holds now.
func (l *ledger) look(t *testing.T, o *worker) {
	t.Helper()
	job, err := job.Read(o.path("site"))
	if err != nil {
		t.Fatal(err)
	}
	book, err := source.ReadFile(o.path("sources.toml"))
	if err != nil {
		t.Fatal(err)
	}
	src, err := book.Find("town")
	if err != nil {
		t.Fatal(err)
	}
	s, err := folder.Open(o.path("store"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	shelf, err := s.Shelf(src.StoreName())
	if err != nil {
		t.Fatal(err)
	}
	area, _, err := job.ReadArea()
	if err != nil {
		t.Fatal(err)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.count = 0
	for _, c := range area.Covers(job.Bases[0].Zooms, job.Margin.Meters()) {
		for r, err := range shelf.In(t.Context(), c, true) {
			if err != nil {
				t.Fatal(err)
			}
			l.stored[r.ID] = true
		}
	}
}

// TestKilledPack kills pack at random moments, in fetching and in writing. At
// no time may a file stand under the pack's name that is not complete, and
// what is stored is never fetched again.
func TestKilledPack(t *testing.T) {
	o := newWorker(t)
	l := &ledger{stored: map[tiles.ID]bool{}, image: jpegOf(t, 256)}
	server := httptest.NewServer(l)
	t.Cleanup(server.Close)
	o.write("sources.toml", strings.Replace(sourceText("town", server.URL+"/{z}/{x}/{y}.jpg", ""), "requests_per_second = 2000", "requests_per_second = 200", 1))
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "200ft", "--margin", "20ft", "--zooms", "15,22")
	r := rand.New(rand.NewPCG(7, 7))
	early, late := 0, 0
	// In fetching: after some answers, wherever the store is then.
	for _, after := range []int64{5, 260, 20, 60, 40} {
		if runAndKill(t, o, func() bool { return l.answers() > after }) {
			early++
		}
		l.proveStanding(t, o)
	}
	// In writing: as soon as the new file is there, or a little later.
	for try := 0; try < 60 && late < 5; try++ {
		wait, began := time.Duration(r.IntN(12))*time.Millisecond, time.Now()
		if runAndKill(t, o, func() bool { return partSince(o, began) && sleep(wait) }) {
			late++
		}
		l.proveStanding(t, o)
	}
	if early < 3 || late < 5 {
		t.Fatalf("%d kills in fetching, %d in writing: the test did not test", early, late)
	}
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Requests != 0 || p.Verdict != check.Fit {
		t.Errorf("after all is stored: %+v", p)
	}
	if len(l.again) > 0 {
		t.Errorf("stored, and fetched again: %v", l.again)
	}
	if left, err := filepath.Glob(o.path("site", "out", ".*.part")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	t.Logf("%d kills in fetching, %d in writing, %d tiles", early, late, p.Wanted)
}

// proveStanding reads the store, and proves that what stands under the pack's
// name is complete.
func (l *ledger) proveStanding(t *testing.T, o *worker) {
	t.Helper()
	l.look(t, o)
	if _, err := os.Stat(o.packPath()); err == nil {
		if report, err := check.Run(t.Context(), o.packPath(), check.Options{}); err != nil || report.Verdict != check.Fit {
			t.Fatalf("after a kill a pack stands there that is not complete: %v %+v", err, report)
		}
	}
}

// partSince reports whether a pack is being written; what an earlier kill left does not count.
func partSince(o *worker, began time.Time) bool {
	found, _ := filepath.Glob(o.path("site", "out", ".*.part"))
	return slices.ContainsFunc(found, func(path string) bool {
		info, err := os.Stat(path)
		return err == nil && info.ModTime().After(began)
	})
}

func sleep(d time.Duration) bool {
	time.Sleep(d)
	return true
}

// runAndKill runs pack as a process of its own and kills it when due says so.
func runAndKill(t *testing.T, o *worker, due func() bool) (killed bool) {
	t.Helper()
	c := exec.Command(os.Args[0], o.args([]string{"pack", o.path("site"), "--quiet"})...)
	c.Env = append(os.Environ(), "GROUNDSHEET_AS_PROGRAM=1")
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- c.Wait() }()
	for {
		select {
		case err := <-done:
			if err != nil {
				t.Fatalf("an unkilled run failed: %v", err)
			}
			return false
		case <-time.After(time.Millisecond):
			if due() {
				_ = c.Process.Kill() // it may just have ended
				return (<-done) != nil
			}
		}
	}
}

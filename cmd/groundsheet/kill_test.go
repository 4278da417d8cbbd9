package main

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// ledger holds what is known to be stored, and who fetched it again.
type ledger struct {
	mu     sync.Mutex
	stored map[tiles.ID]bool
	again  []tiles.ID
}

// sent is told every answer of the source.
func (l *ledger) sent(_, path string, status int) {
	id, err := tiles.ParseID(strings.TrimSuffix(strings.TrimPrefix(path, "/"), ".jpg"))
	if err != nil || status != 200 {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stored[id] {
		l.again = append(l.again, id)
	}
}

// look reads what the store holds now.
func (l *ledger) look(t *testing.T, o *office) {
	t.Helper()
	job, err := pack.ReadJob(o.path("site"))
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
	s, err := store.Open(o.path("store"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	shelf, err := s.Shelf(src.StoreName())
	if err != nil {
		t.Fatal(err)
	}
	area, err := job.ReadArea()
	if err != nil {
		t.Fatal(err)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range area.Covers(job.Bases[0].Zooms, job.Margin.Metres()) {
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
	o := newOffice(t)
	l := &ledger{stored: map[tiles.ID]bool{}}
	running := o.startSource(practice.Options{BusyEvery: -1, Log: l.sent})
	o.write("sources.toml", strings.Replace(sourceText("town", running.URL, ""), "requests_per_second = 2000", "requests_per_second = 120", 1))
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "200ft", "--margin", "20ft", "--zooms", "15,21")
	kills, late, finished := 0, 0, 0
	r := rand.New(rand.NewPCG(7, 7))
	for try := 0; try < 80 && (kills < 12 || late < 4); try++ {
		most := 1600 // long enough to fetch something
		if finished > 0 {
			most = 250 // only writing is left to be killed
		}
		if runAndKill(t, o, time.Duration(20+r.IntN(most))*time.Millisecond) {
			kills++
			if finished > 0 {
				late++
			}
		} else {
			finished++
		}
		l.look(t, o)
		if _, err := os.Stat(o.packPath()); err == nil {
			if report, err := check.Run(t.Context(), o.packPath(), check.Options{}); err != nil || report.Verdict != check.Fit {
				t.Fatalf("after a kill a pack stands there that is not complete: %v %+v", err, report)
			}
		}
	}
	if kills < 12 || late < 4 {
		t.Fatalf("%d kills, %d of them while only writing was left: the test did not test", kills, late)
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
	t.Logf("%d kills, %d finished, %d tiles", kills, finished, p.Wanted)
}

// runAndKill runs pack as a process of its own and kills it after a while.
func runAndKill(t *testing.T, o *office, after time.Duration) (killed bool) {
	t.Helper()
	c := exec.Command(os.Args[0], o.args([]string{"pack", o.path("site"), "--quiet"})...)
	c.Env = append(os.Environ(), "GROUNDSHEET_AS_PROGRAM=1")
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- c.Wait() }()
	select {
	case err := <-done:
		if err != nil {
			t.Fatalf("an unkilled run failed: %v", err)
		}
		return false
	case <-time.After(after):
		_ = c.Process.Kill() // it may just have ended
		<-done
		return true
	}
}

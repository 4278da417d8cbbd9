package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/job"
)

// TestKilledCollect kills collect at random moments. At each the job can be read, and once a
// run has ended, all is as if none had been killed.
func TestKilledCollect(t *testing.T) {
	o := newWorker(t)
	for _, site := range []string{"site", "whole"} {
		o.must(0, "new", o.path(site), "--name", "Test site", "--number", "7", "--around", "40.5,-140.5", "--radius", "200ft", "--zooms", "15,22")
	}
	book := o.path("test-site.fieldbook")
	b, err := fieldbook.Open(book, fieldbook.About{Name: "Test site", Number: "7"}, fieldbook.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var texts [][]byte
	for i := range 400 {
		id, utility := fmt.Sprintf("%032x", i+1), []string{"water", "gas", "sewer"}[i%3]
		texts = append(texts, fmt.Appendf(nil, `{"layout":1,"id":%q,"mark":%q,"after":[],"action":"write","who":"Ann","phone":%q,"clock":"2026-11-29T12:00:00Z","feature":{"type":"Feature",
"geometry":{"type":"Point","coordinates":[-140.5,%.7f]},"properties":{"kind":"reading","utility":%q,"depth_m":1}}}`, id, id, id, 40.5+float64(i)/1e6, utility))
	}
	if _, err := b.Append(t.Context(), fieldbook.Sender{Role: "mark"}, texts); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	o.must(0, "collect", o.path("whole"), book)
	whole, kills, wanted := time.Since(began), 0, 40
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		wanted = 100
	}
	r := rand.New(rand.NewPCG(1, 9))
	for try := 0; try < 3*wanted && kills < wanted; try++ {
		c := exec.Command(os.Args[0], o.args([]string{"collect", o.path("site"), book, "--quiet"})...)
		c.Env = append(os.Environ(), "GROUNDSHEET_AS_PROGRAM=1")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(r.Int64N(int64(whole) + 1)))
		_ = c.Process.Kill() // it may just have ended
		if c.Wait() != nil {
			kills++
		}
		j, err := job.Read(o.path("site"))
		if err == nil {
			_, err = j.ReadInputs()
		}
		if err != nil {
			t.Fatalf("after a kill: %v", err)
		}
	}
	o.must(0, "collect", o.path("site"), book)
	for _, pattern := range []string{"job.toml", "overlays/*", "fieldbooks/*", ".groundsheet-lock"} {
		want, err := filepath.Glob(o.path("whole", pattern))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range want {
			name, err := filepath.Rel(o.path("whole"), path)
			if err != nil {
				t.Fatal(err)
			}
			one, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if other, err := os.ReadFile(o.path("site", name)); err != nil || string(one) != string(other) {
				t.Errorf("%s is not as without kills: %v", name, err)
			}
		}
	}
	if left, err := filepath.Glob(o.path("site", "fieldbooks", ".*")); err != nil || len(left) > 0 {
		t.Errorf("left: %v %v", left, err)
	}
	t.Logf("%d kills within %v", kills, whole)
}

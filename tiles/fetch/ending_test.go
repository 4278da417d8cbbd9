package fetch_test

import (
	"context"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fetch"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

func TestCancelKeepsWhatCame(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		time.Sleep(2 * time.Millisecond)
		w.Write(plain)
	})
	s := shelf(t)
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	wants := func(yield func(fetch.Want, error) bool) {
		for _, w := range row(500) {
			if n++; n == 60 {
				cancel()
			}
			if !yield(w, nil) {
				return
			}
		}
	}
	o := quick()
	o.BatchEvery, o.BatchSize = time.Hour, 1000 // only the last write, after the cancel, can keep anything
	tally, err := fetch.Run(ctx, h.fast(), s, wants, o)
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("%v, want context.Canceled", err)
	}
	if errors.Is(err, fetch.Failed) {
		t.Error("a cancel is not a failure of the outside")
	}
	if tally.New < 40 || tally.New > 60 || len(held(t, s)) != tally.New || tally.Failed != 0 {
		t.Errorf("%+v, %d held", tally, len(held(t, s)))
	}
}

func TestStoreFailureEndsTheRun(t *testing.T) {
	h := serve(t, sends(plain))
	dir := t.TempDir()
	st, err := folder.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s, _ := st.Shelf("county")
	os.WriteFile(filepath.Join(dir, "county.sqlite"), []byte(strings.Repeat("no database ", 2000)), 0o600)
	o := quick()
	o.BatchSize = 5
	src := h.fast()
	src.Terms.RequestsPerSecond = 500
	tally, err := run(src, s, row(2000), o)
	if !errors.Is(err, store.Damaged) || tally.New != 0 || tally.Requests > 100 {
		t.Errorf("%v (%T), %+v", err, err, tally)
	}
}

// Progress comes at most 10 times a second, never concurrently, never counts
// what is not on the disk, and ends with the tally.
func TestProgress(t *testing.T) {
	h := serve(t, sends(plain))
	s := shelf(t)
	src := h.fast()
	src.Terms.RequestsPerSecond = 300
	var at []time.Time
	var last fetch.Tally
	var busy atomic.Int32
	o := quick()
	o.BatchSize = 10
	o.Progress = func(tally fetch.Tally) {
		if busy.Add(1) != 1 {
			t.Error("called concurrently")
		}
		if n := len(held(t, s)); n < tally.New {
			t.Errorf("counted %d new, %d on the disk", tally.New, n)
		}
		at, last = append(at, time.Now()), tally
		busy.Add(-1)
	}
	tally, err := run(src, s, row(300), o)
	if err != nil || last != tally || tally.New != 300 {
		t.Errorf("%+v, last shown %+v, %v", tally, last, err)
	}
	if len(at) < 4 {
		t.Errorf("shown %d times in about a second", len(at))
	}
	for i := 1; i < len(at)-1; i++ {
		if gap := at[i].Sub(at[i-1]); gap < 99*time.Millisecond {
			t.Errorf("shown again after %v", gap)
		}
	}
}

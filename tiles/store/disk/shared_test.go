package disk

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

func TestUnwrittenShelfMakesNoFile(t *testing.T) {
	dir := t.TempDir()
	_, s := open(t, dir)
	if _, ok, err := s.Get(context.Background(), tiles.ID{}); ok || err != nil {
		t.Errorf("held %v, %v", ok, err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 0 {
		t.Errorf("reading made %v", files)
	}
}

func TestShelfNames(t *testing.T) {
	st, _ := open(t, t.TempDir())
	for _, name := range []string{"", "../x", "a/b", "a.b", strings.Repeat("a", 81)} {
		if _, err := st.Shelf(name); err == nil {
			t.Errorf("%q was taken", name)
		}
	}
	a, _ := st.Shelf("same")
	if b, _ := st.Shelf("same"); a != b {
		t.Error("two shelves for one name")
	}
}

func TestClosedStore(t *testing.T) {
	st, s := open(t, t.TempDir())
	keep(t, s, hole(0, 0, 0))
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Keep(context.Background(), []store.Record{hole(0, 0, 0)}); err == nil || !strings.Contains(err.Error(), "closed") {
		t.Errorf("kept in a closed store: %v", err)
	}
	if _, err := st.Shelf("x"); err == nil {
		t.Error("a closed store gave a shelf")
	}
}

func TestCancelledKeepWritesNothing(t *testing.T) {
	_, s := open(t, t.TempDir())
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Keep(ctx, []store.Record{hole(0, 0, 0)}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
}

// Two stores on one folder behave like two processes: each has its own
// connections, and SQLite's locks are between connections.
func TestTwoStoresWriteTogether(t *testing.T) {
	dir := t.TempDir()
	const writers, batches, size = 4, 25, 8
	var wg sync.WaitGroup
	faults := make(chan error, writers)
	for w := range uint32(writers) {
		st, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer st.Close()
		s, _ := st.shelf("shared")
		wg.Go(func() {
			for b := range uint32(batches) {
				var recs []store.Record
				for i := range uint32(size) {
					recs = append(recs, image(12, b*size+i, w, uint64(b), 3000))
				}
				if _, err := s.Keep(context.Background(), recs); err != nil {
					faults <- fmt.Errorf("writer %d, batch %d: %w", w, b, err)
					return
				}
			}
		})
	}
	wg.Wait()
	close(faults)
	for err := range faults {
		t.Error(err)
	}
	st, _ := Open(dir)
	defer st.Close()
	s, _ := st.shelf("shared")
	c := tiles.NewCover(12, []tiles.Span{{Row: 0, First: 0, Last: 999}, {Row: 1, First: 0, Last: 999}, {Row: 2, First: 0, Last: 999}, {Row: 3, First: 0, Last: 999}})
	if n := len(all(t, s, c, true)); n != writers*batches*size {
		t.Errorf("%d tiles, want %d", n, writers*batches*size)
	}
	if n := count(t, s, `SELECT count(*) FROM images`); n != batches {
		t.Errorf("%d images, want %d", n, batches)
	}
}

func TestPragmas(t *testing.T) {
	_, s := open(t, t.TempDir())
	keep(t, s, hole(0, 0, 0))
	for pragma, want := range map[string]string{"journal_mode": "truncate", "synchronous": "2", "page_size": "16384", "auto_vacuum": "2", "user_version": "4", "busy_timeout": "10000"} {
		var got string
		if err := s.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %q, %v, want %q", pragma, got, err, want)
		}
	}
}

package fieldbook

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/raster"
)

// fill lets the file grow no more, as a disk does that is full.
func fill(t *testing.T, b *Book, more int) {
	t.Helper()
	var pages int
	if err := b.db.QueryRow(`PRAGMA page_count`).Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := b.db.Exec(fmt.Sprintf(`PRAGMA max_page_count=%d`, pages+more)); err != nil {
		t.Fatal(err)
	}
}

// TestDiskFull: what does not fit is refused whole, what is there stays whole, and the same
// is taken when there is room again.
func TestDiskFull(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	appended(t, b, reading("one"))
	fill(t, b, 0)
	long := reading("long").with(".note", strings.Repeat("x", 30_000))
	texts := [][]byte{reading("two").text(t), long.text(t), reading("three").text(t)}
	if r, err := b.Append(t.Context(), Sender{}, texts); !errors.Is(err, NoRoom) || r != nil || !strings.Contains(err.Error(), "make room") {
		t.Fatalf("%+v, %v", r, err)
	}
	data, hash := pictured(t, raster.JPG)
	piece := Piece{hash, "image/jpeg", int64(len(data)), 0, data[:20_000]}
	if s, err := b.AddPiece(t.Context(), piece); !errors.Is(err, NoRoom) {
		t.Fatalf("%+v, %v", s, err)
	}
	if v := whole(t, b); v.Entries != 1 || v.Pending != 0 {
		t.Errorf("%+v", v)
	}
	if r := appended(t, b, reading("one")); r[0].Number != 1 {
		t.Errorf("a receipt needs no room: %+v", r)
	}
	fill(t, b, 1000)
	if r, err := b.Append(t.Context(), Sender{}, texts); err != nil || r[2].Number != 4 {
		t.Errorf("%+v, %v", r, err)
	}
	if s, err := b.AddPiece(t.Context(), piece); err != nil || s.Have != 20_000 {
		t.Errorf("%+v, %v", s, err)
	}
	whole(t, b)
}

// TestUnmade: a file that a kill left without its first commit is a book without entries,
// and the next server goes on with it.
func TestUnmade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.fieldbook")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	if v := whole(t, r); v.Entries != 0 || r.Close() != nil {
		t.Errorf("%+v", v)
	}
	b := opened(t, path, Options{})
	appended(t, b, reading("one"))
	if v := whole(t, b); v.Entries != 1 || b.About().Name != "Larkwater" {
		t.Errorf("%+v, %+v", v, b.About())
	}
}

// TestClockJumps: a laptop's clock that is set back is told, and nothing else changes.
func TestClockJumps(t *testing.T) {
	now := noon
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{Now: func() time.Time { return now }})
	for i, at := range []time.Time{noon, noon.Add(-2 * time.Hour), noon.Add(time.Second)} {
		now = at
		if r := appended(t, b, reading(fmt.Sprint(i))); r[0].Number != int64(i+1) {
			t.Fatalf("%+v", r)
		}
	}
	v := whole(t, b)
	if len(v.Notes) != 1 || !strings.Contains(v.Notes[0], "entry 2") || !strings.Contains(v.Notes[0], "2h0m0s") {
		t.Errorf("%q", v.Notes)
	}
	all, err := b.Entries(t.Context(), 0, 10)
	if err != nil || !all[1].Received.Equal(noon.Add(-2*time.Hour)) {
		t.Errorf("%+v, %v", all, err)
	}
}

// TestManyBegunPhotos: photos that never all come take no room without end.
func TestManyBegunPhotos(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "a.fieldbook"), Options{})
	name := func(i int) string { return hashOf(fmt.Append(nil, i)) }
	for i := range mostPending + 3 {
		if _, err := b.AddPiece(t.Context(), Piece{name(i), "image/png", 10, 0, []byte("x")}); err != nil {
			t.Fatal(err)
		}
	}
	for i, want := range map[int]int64{0: 0, 2: 0, 3: 1, mostPending + 2: 1} {
		if s, err := b.Have(t.Context(), name(i)); err != nil || s.Have != want {
			t.Errorf("photo %d: %+v, %v", i, s, err)
		}
	}
	if v := whole(t, b); v.Pending != mostPending {
		t.Errorf("%+v", v)
	}
}

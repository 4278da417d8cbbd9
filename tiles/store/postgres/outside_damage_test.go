//go:build outside

package postgres

import (
	"errors"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/storetest"
)

// whole is row 0 of zoom 9.
func whole() tiles.Cover { return tiles.NewCover(9, []tiles.Span{{Row: 0, First: 0, Last: 511}}) }

func TestOutsideDamage(t *testing.T) {
	const inImage = `UPDATE groundsheet.images SET data = overlay(data placing '\x00ff00ff' from 100 for 4)`
	const noImage = `SET session_replication_role = replica; DELETE FROM groundsheet.images WHERE hash = (SELECT hash FROM groundsheet.tiles WHERE x = 2)`
	const longer = `UPDATE groundsheet.images SET data = data || '\x00'`
	const stated = `UPDATE groundsheet.tiles SET bytes = bytes + 1 WHERE x = 2`
	for _, c := range []struct {
		name, text string
		walk       bool   // a walk meets it
		flaw       string // Sound names it
	}{
		{"a flipped bit inside an image", inImage, true, ""},
		{"an image that is gone", noImage, true, "1 tiles have no image"},
		{"an image that is too long", longer, true, "3 images have another length"},
		{"a length that is not true", stated, false, "1 tiles state another length"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := address(t)
			s := town(t, openAt(t, a, Options{}))
			keep(t, s, image(9, 1, 1, 5000), image(9, 2, 2, 5000), image(9, 3, 3, 5000))
			query(t, a, c.text)
			var err error
			for _, e := range s.In(t.Context(), whole(), true) {
				err = e
			}
			if errors.Is(err, store.Damaged) != c.walk || err != nil && !strings.Contains(err.Error(), "backup") {
				t.Errorf("a walk: %v (%T)", err, err)
			}
			_, _, getErr := s.Get(t.Context(), tiles.ID{Z: 9, X: 2})
			if errors.Is(getErr, store.Damaged) != c.walk {
				t.Errorf("Get: %v", getErr)
			}
			n := 0
			for _, err := range s.All(t.Context(), true) { // who keeps house looks for himself
				if err != nil {
					t.Error(err)
				}
				n++
			}
			flaws, err := s.Sound(t.Context())
			if got := strings.Join(flaws, "; "); n != 3 || err != nil || !strings.HasPrefix(got, c.flaw) || (got == "") != (c.flaw == "") {
				t.Errorf("%d records; flaws %q, %v, want %q", n, flaws, err, c.flaw)
			}
		})
	}
}

// With amcheck the indexes are looked at as well; one whose order is no longer
// what it says is found.
func TestOutsideIndexes(t *testing.T) {
	a := address(t)
	s := town(t, openAt(t, a, Options{}))
	var recs []store.Held
	for i := range uint32(50) {
		recs = append(recs, image(9, i, uint64(i), 100))
	}
	keep(t, s, recs...)
	query(t, a, `CREATE EXTENSION amcheck`)
	if flaws, err := s.Sound(t.Context()); err != nil || len(flaws) != 0 {
		t.Fatalf("%q, %v", flaws, err)
	}
	// As after a change of the system's sorting rules: the index says one order
	// and its operators another.
	query(t, a, `CREATE FUNCTION public.reversed(int, int) RETURNS int LANGUAGE sql IMMUTABLE AS 'SELECT $1 - $2';
		CREATE OPERATOR CLASS public.odd FOR TYPE int USING btree AS OPERATOR 1 <, OPERATOR 2 <=, OPERATOR 3 =, OPERATOR 4 >=, OPERATOR 5 >, FUNCTION 1 public.reversed(int, int);
		CREATE INDEX odd ON groundsheet.tiles (x public.odd)`)
	query(t, a, `CREATE OR REPLACE FUNCTION public.reversed(int, int) RETURNS int LANGUAGE sql IMMUTABLE AS 'SELECT $2 - $1'`)
	if flaws, err := s.Sound(t.Context()); err != nil || len(flaws) != 1 || !strings.Contains(flaws[0], "odd") {
		t.Errorf("%q, %v, want one flaw that names the index", flaws, err)
	}
}

func TestOutsideOrphans(t *testing.T) {
	a := address(t)
	s := town(t, openAt(t, a, Options{}))
	keep(t, s, image(9, 1, 1, 500), image(9, 2, 2, 500), image(9, 3, 3, 500))
	query(t, a, `DELETE FROM groundsheet.tiles WHERE x > 1`)
	for i, step := range []struct {
		drop bool
		want int64
	}{{false, 2}, {true, 2}, {false, 0}} {
		if n, err := s.Orphans(t.Context(), step.drop); err != nil || n != step.want {
			t.Errorf("step %d: %d orphans, %v, want %d", i, n, err, step.want)
		}
	}
	if _, held, err := s.Get(t.Context(), tiles.ID{Z: 9, X: 1}); !held || err != nil {
		t.Errorf("the image in use: %v, %v", held, err)
	}
}

// Two shelves take about what the database says, and each about its part.
func TestOutsideSizeIsSharedOut(t *testing.T) {
	a := address(t)
	st := openAt(t, a, Options{})
	other, err := st.Shelf("other")
	if err != nil {
		t.Fatal(err)
	}
	var recs []store.Held
	for i := range uint32(400) {
		recs = append(recs, image(10, i, uint64(i), 9000))
	}
	keep(t, town(t, st), recs[:300]...)
	keep(t, other, recs[300:]...)
	large, err := town(t, st).Size(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	small, err := other.Size(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if ratio := float64(large.Bytes) / float64(small.Bytes); ratio < 2.9 || ratio > 3.1 {
		t.Errorf("300 tiles take %d bytes, 100 take %d", large.Bytes, small.Bytes)
	}
	if sum := large.Bytes + small.Bytes; sum < 400*9000 || sum > 2*400*9000 {
		t.Errorf("%d bytes for 3.6 MB of images", sum)
	}
}

// A record that cannot be read ends fetching: nothing behind it is asked for again.
func TestOutsideUnreadableRecordEndsFetching(t *testing.T) {
	a := address(t)
	var recs []store.Held
	for x := range uint32(tilesAtOnce + 2000) {
		if x%50 != 0 {
			recs = append(recs, image(20, x, uint64(x), 100))
		}
	}
	keep(t, town(t, openAt(t, a, Options{})), recs...)
	query(t, a, `ALTER TABLE groundsheet.tiles ALTER bytes TYPE numeric; UPDATE groundsheet.tiles SET bytes = 100.5 WHERE x = 9001`)
	storetest.FailingRead(t, town(t, openAt(t, a, Options{})), tiles.NewCover(20, []tiles.Span{{Row: 0, First: 0, Last: 19999}}))
}

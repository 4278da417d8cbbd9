package folder

import (
	"os"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// What is dropped is gone, its image too when no other tile uses it, and the
// room goes back to the disk.
func TestDropGivesRoomBack(t *testing.T) {
	_, s := open(t, t.TempDir())
	var recs []store.Held
	var drop []tiles.ID
	for i := range uint32(400) {
		recs = append(recs, image(20, i, 0, uint64(i/2), 18000))
		if i >= 100 {
			drop = append(drop, tiles.ID{Z: 20, X: i})
		}
	}
	keep(t, s, recs...)
	before := fileSize(s.path)
	if err := s.Drop(t.Context(), append(drop, tiles.ID{Z: 3})); err != nil {
		t.Fatal(err)
	}
	freed, err := s.GiveBack(t.Context())
	if after := fileSize(s.path); err != nil || freed != before-after || after > before*2/5 {
		t.Errorf("%d bytes became %d, %d said to be freed, %v", before, after, freed, err)
	}
	z, err := s.Size(t.Context())
	if err != nil || z.Tiles != 100 || z.Images != 50 || z.Bytes != fileSize(s.path) || z.Oldest.IsZero() {
		t.Errorf("%+v, %v", z, err)
	}
	if flaws, err := s.Sound(t.Context()); err != nil || len(flaws) > 0 {
		t.Errorf("%v, %v", flaws, err)
	}
}

func TestRepeatedAndOrphans(t *testing.T) {
	_, s := open(t, t.TempDir())
	for i := range uint32(200) {
		seed := uint64(1)
		if i >= 150 {
			seed = uint64(i)
		}
		keep(t, s, image(20, i, 0, seed, 100))
	}
	got, err := s.Repeated(t.Context(), 3)
	if err != nil || len(got) != 1 || got[0].Places != 150 || len(got[0].Some) != 50 || got[0].Some[1].X != 3 {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := s.db.Exec(`DELETE FROM tiles WHERE x >= 190`); err != nil {
		t.Fatal(err)
	}
	for _, want := range []int64{10, 10, 0} {
		if n, err := s.Orphans(t.Context(), want == 10); err != nil || n != want && n != 0 {
			t.Errorf("%d orphans, %v", n, err)
		}
	}
	n := 0
	for r, err := range s.All(t.Context(), true) {
		if err != nil || len(r.Data) != 100 {
			t.Fatal(err)
		}
		n++
	}
	if n != 190 {
		t.Errorf("All gave %d", n)
	}
}

func TestRegister(t *testing.T) {
	dir := t.TempDir()
	st, _ := open(t, dir)
	if jobs, err := st.Jobs(t.Context()); err != nil || len(jobs) != 0 {
		t.Fatalf("%v, %v", jobs, err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 0 {
		t.Errorf("asking made %v", files)
	}
	j := store.PackedJob{Key: "desk:/jobs/site", Name: "Site", Shelf: "county", Packed: time.UnixMicro(5).UTC(),
		Covers: []tiles.Cover{tiles.NewCover(3, []tiles.Span{{Row: 1, First: 2, Last: 3}})}}
	if err := st.NoteJob(t.Context(), j); err != nil {
		t.Fatal(err)
	}
	if known, err := st.CloseJob(t.Context(), "other", time.Now()); known || err != nil {
		t.Errorf("%v %v", known, err)
	}
	if known, err := st.CloseJob(t.Context(), j.Key, time.UnixMicro(9)); !known || err != nil {
		t.Errorf("%v %v", known, err)
	}
	jobs, err := st.Jobs(t.Context())
	if err != nil || len(jobs) != 1 || jobs[0].Open() || jobs[0].Covers[0].Count() != 2 || !jobs[0].Packed.Equal(j.Packed) {
		t.Errorf("%+v, %v", jobs, err)
	}
	if names, err := st.Shelves(t.Context()); err != nil || len(names) != 0 {
		t.Errorf("shelves %v, %v", names, err)
	}
}

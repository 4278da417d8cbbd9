package folder

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// TestUpgrade opens a store of the first version, with a tile in it.
func TestUpgrade(t *testing.T) {
	dir := t.TempDir()
	db := sqlite.Open(filepath.Join(dir, "town.sqlite"), sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE images (id INTEGER PRIMARY KEY, hash BLOB NOT NULL UNIQUE, data BLOB NOT NULL);
	CREATE TABLE tiles (z INTEGER NOT NULL, y INTEGER NOT NULL, x INTEGER NOT NULL, image INTEGER REFERENCES images(id),
	 hash BLOB, bytes INTEGER NOT NULL, media TEXT NOT NULL, source TEXT NOT NULL, fetched INTEGER NOT NULL, fresh_until INTEGER NOT NULL,
	 etag TEXT NOT NULL, last_modified TEXT NOT NULL, PRIMARY KEY (z, y, x)) WITHOUT ROWID;
	CREATE INDEX tiles_image ON tiles(image) WHERE image IS NOT NULL;
	INSERT INTO tiles VALUES (3, 2, 1, NULL, NULL, 0, '', 'town', 0, 0, '', '');
	PRAGMA application_id=1196643156; PRAGMA user_version=1;`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	shelf, err := s.shelf("town")
	if err != nil {
		t.Fatal(err)
	}
	if r, held, err := shelf.Get(t.Context(), tiles.ID{Z: 3, X: 1, Y: 2}); err != nil || !held || !r.Hole || r.Fixed {
		t.Errorf("%+v %v %v", r, held, err)
	}
	if rate, err := shelf.PerSecond(t.Context()); err != nil || rate != 0 {
		t.Errorf("nothing has been timed: %v %v", rate, err)
	}
	for _, run := range []struct {
		n    int
		took time.Duration
	}{{100, 10 * time.Second}, {300, 10 * time.Second}, {3, time.Hour}} {
		if err := shelf.Timed(t.Context(), run.n, run.took); err != nil {
			t.Fatal(err)
		}
	}
	if rate, err := shelf.PerSecond(t.Context()); err != nil || rate != 20 {
		t.Errorf("400 requests in 20 s are %v a second, %v", rate, err)
	}
}

// TestUpgradeOfRegister opens a register of the first version, with a job in it; a
// program of that version refuses it afterwards: it would prune what is kept.
func TestUpgradeOfRegister(t *testing.T) {
	dir := t.TempDir()
	db := sqlite.Open(filepath.Join(dir, "jobs.register"), sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE jobs (
	 key TEXT NOT NULL, base INTEGER NOT NULL, name TEXT NOT NULL, number TEXT NOT NULL,
	 shelf TEXT NOT NULL, pack TEXT NOT NULL, covers BLOB NOT NULL, packed INTEGER NOT NULL, closed INTEGER NOT NULL,
	 PRIMARY KEY (key, base));
	INSERT INTO jobs VALUES ('k1', 0, 'Valve 12', '24-117', 'town-1', '/a', '[]', 5, 0);
	PRAGMA application_id=1196640850; PRAGMA user_version=1;`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	keep := store.Keeping{Until: "2027-03-01", Reason: "claim"}
	if known, err := s.KeepJob(t.Context(), "k1", keep); err != nil || !known {
		t.Fatal(known, err)
	}
	jobs, err := s.Jobs(t.Context())
	if err != nil || len(jobs) != 1 || jobs[0].Number != "24-117" || jobs[0].Keep != keep {
		t.Errorf("%+v %v", jobs, err)
	}
	earlier := registerFile(dir)
	earlier.upgrades = nil
	if _, err := earlier.handle(t.Context(), false); !errors.Is(err, store.Newer) {
		t.Errorf("%v", err)
	}
}

package serve

import (
	"net/http"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles/sqlite"
)

// change alters a pack of our own as somebody would who means harm.
func change(t *testing.T, path, text string) string {
	t.Helper()
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(text); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// endlessRecords makes the records of a pack take for ever to read, not what it
// says of them.
const endlessRecords = `ALTER TABLE groundsheet_overlay RENAME TO o; CREATE TABLE n(i);
 WITH RECURSIVE m(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM m WHERE i<1000) INSERT INTO n SELECT i FROM m;
 CREATE VIEW groundsheet_overlay AS SELECT m.i AS position, m.i||'-water' AS id, replace(summary,'"1-water"','"'||m.i||'-water"') AS summary,
  (SELECT count(*) FROM n a, n b, n c, n d, n e, n f WHERE a.i+b.i+c.i+d.i+e.i+f.i+o.rowid < 0)||features AS features FROM o, n m WHERE m.i<=5`

// TestHostileEndlessRecords: the other packs are opened and served meanwhile, and
// phones that ask again do not wait one after the other.
func TestHostileEndlessRecords(t *testing.T) {
	began := time.Now()
	s, h := besideAGood(t, change(t, makePack(t, "Hostile"), endlessRecords))
	if took := time.Since(began); took > 12*time.Second {
		t.Errorf("opening it took %v", took)
	}
	var wg sync.WaitGroup
	began = time.Now()
	for range 6 {
		wg.Go(func() {
			wantStatus(t, h, "/packs/hostile/overlays/1-water.geojson", http.StatusInternalServerError, http.StatusServiceUnavailable)
		})
	}
	wantGood(t, s)
	wg.Wait()
	if took := time.Since(began); took > 25*time.Second {
		t.Errorf("six phones waited %v", took)
	}
}

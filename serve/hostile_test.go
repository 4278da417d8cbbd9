package serve

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image/png"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
)

const bareTables = `CREATE TABLE metadata(name text, value text);
 CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
 INSERT INTO metadata VALUES('name','Hostile'),('format','png'),('minzoom','2'),('maxzoom','3');`

// hostileFile makes a file by SQL, one statement a line of args or more.
func hostileFile(t *testing.T, text string, args ...any) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "hostile.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	defer db.Close()
	if _, err := db.Exec(text); err != nil {
		t.Fatal(err)
	}
	for _, data := range args {
		if _, err := db.Exec(`INSERT INTO tiles VALUES(2,1,2,?)`, data); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// besideAGood serves a hostile file and a good pack, and proves at the end that
// the good one is still served and that the hostile file was not changed.
func besideAGood(t *testing.T, path string) (*Server, *httptest.Server) {
	t.Helper()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, h := looked(t, nil, path, makePack(t, "Site one"))
	t.Cleanup(func() {
		wantGood(t, s)
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
			t.Errorf("the file was changed: %v", err)
		}
	})
	return s, h
}

func wantGood(t *testing.T, s *Server) {
	t.Helper()
	w := httptest.NewRecorder()
	r, err := http.NewRequest(http.MethodGet, "/packs/site-one/tiles/"+deepest17.String()+".png", nil)
	if err != nil {
		t.Fatal(err)
	}
	if s.ServeHTTP(w, r); w.Code != 200 || !bytes.Equal(w.Body.Bytes(), quarters(t)) {
		t.Errorf("the good pack answers %d", w.Code)
	}
}

// wantStatus asks for tiles and wants one of the answers.
func wantStatus(t *testing.T, h *httptest.Server, path string, want ...int) *http.Response {
	t.Helper()
	resp, body := get(t, h.URL+path)
	for _, code := range want {
		if resp.StatusCode == code {
			return resp
		}
	}
	t.Errorf("%s: %s %.80q, want %v", path, resp.Status, body, want)
	return resp
}

// hostileTile is where hostileFile puts its tile: row 2 from the south.
const hostileTile = "/packs/hostile/tiles/2/1/1.png"

// TestHostileTriggersAndViews: nothing of the schema runs but what is read.
func TestHostileTriggersAndViews(t *testing.T) {
	path := hostileFile(t, bareTables+`
		CREATE TABLE victim(a); INSERT INTO victim VALUES(1);
		CREATE TRIGGER t1 AFTER INSERT ON tiles BEGIN DELETE FROM victim; END;
		CREATE VIEW v1 AS SELECT load_extension('/tmp/x.so'); CREATE VIEW v2 AS SELECT * FROM v2x; CREATE VIEW v2x AS SELECT * FROM v2;
		CREATE TRIGGER t2 INSTEAD OF INSERT ON v1 BEGIN SELECT writefile('/tmp/x','y'); END;`, quarters(t))
	_, h := besideAGood(t, path)
	wantStatus(t, h, hostileTile, 200)
	wantStatus(t, h, "/packs/hostile/tiles/3/2/2.png", 200)
	wantStatus(t, h, "/packs/hostile/tiles/1/0/0.png", 200, 204)

	calls := strings.NewReplacer("CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);",
		`CREATE VIEW tiles AS SELECT 2 AS zoom_level, 1 AS tile_column, 2 AS tile_row, load_extension('/tmp/x.so') AS tile_data;`)
	if _, err := Open(t.Context(), []string{hostileFile(t, calls.Replace(bareTables))}, Options{Page: page, Poll: -1}); err == nil {
		t.Error("a view that loads a program is served")
	}
}

// TestHostileRecursiveViews: refused when the file is opened, soon and in little
// memory.
func TestHostileRecursiveViews(t *testing.T) {
	noTiles := strings.Replace(bareTables, "CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);", "", 1)
	row := `SELECT 2 AS zoom_level, 1 AS tile_column, 2 AS tile_row, x'00' AS tile_data`
	doubling := `CREATE VIEW v0 AS ` + row + `;`
	for i := 1; i < 60; i++ {
		doubling += fmt.Sprintf(`CREATE VIEW v%d AS SELECT a.* FROM v%d a, v%d b LIMIT 5;`, i, i-1, i-1)
	}
	common := `CREATE VIEW tiles AS WITH v0 AS (` + row + `)`
	for i := 1; i < 60; i++ {
		common += fmt.Sprintf(`, v%d AS (SELECT a.* FROM v%d a, v%d b LIMIT 5)`, i, i-1, i-1)
	}
	for name, schema := range map[string]string{
		"in a circle": `CREATE VIEW tiles AS SELECT * FROM w; CREATE VIEW w AS SELECT * FROM tiles;`,
		"on itself":   `CREATE VIEW tiles AS SELECT * FROM tiles;`,
		"doubling":    doubling + `CREATE VIEW tiles AS SELECT * FROM v59;`,
		"common":      common + ` SELECT * FROM v59;`,
		"recursive":   `CREATE VIEW tiles AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM n) SELECT 2 AS zoom_level, x AS tile_column, x AS tile_row, x'00' AS tile_data FROM n;`,
	} {
		t.Run(name, func(t *testing.T) {
			began := time.Now()
			s, err := Open(t.Context(), []string{hostileFile(t, noTiles+schema)}, Options{Page: page, Poll: -1})
			if err == nil {
				_ = s.Close()
				t.Error("it is served")
			}
			if took := time.Since(began); took > 20*time.Second {
				t.Errorf("it took %v", took)
			}
		})
	}
}

// TestHostileEndlessView: reading is broken off, then the pack rests; the good
// one is served all the while, and the state says what is wrong.
func TestHostileEndlessView(t *testing.T) {
	noTiles := strings.Replace(bareTables, "CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);", "", 1)
	path := hostileFile(t, noTiles+`CREATE TABLE n(i); WITH RECURSIVE m(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM m WHERE i<1000) INSERT INTO n SELECT i FROM m;
		CREATE VIEW tiles AS SELECT a.i AS zoom_level, b.i AS tile_column, c.i AS tile_row, x'00' AS tile_data FROM n a, n b, n c, n d, n e, n f WHERE a.i+b.i+c.i+d.i+e.i+f.i < 0;`)
	s, h := besideAGood(t, path)
	var wg sync.WaitGroup
	for range 12 {
		wg.Go(func() {
			began := time.Now()
			if resp := wantStatus(t, h, hostileTile, 503); resp.Header.Get("Retry-After") == "" {
				t.Error("it does not say when to try again")
			}
			if took := time.Since(began); took > time.Minute {
				t.Errorf("it took %v", took)
			}
		})
	}
	for range 20 {
		wantGood(t, s)
	}
	wg.Wait()
	s.Scan(t.Context())
	wantState(t, s, 0, "Hostile", "too long")
	began := time.Now()
	wantStatus(t, h, hostileTile, 503)
	if took := time.Since(began); took > 2*time.Second && pausing(s) {
		t.Errorf("a resting pack is asked: %v", took)
	}
}

// pausing reports whether the first pack is not read at present.
func pausing(s *Server) bool {
	all := s.packs.AcquireAll()
	for _, p := range all {
		defer p.Release()
	}
	return all[0].Attached.Pausing(time.Now())
}

// TestHostileCorruptPages: whatever is broken in a file, answers are tiles,
// nothing, or errors.
func TestHostileCorruptPages(t *testing.T) {
	whole, err := os.ReadFile(block{wide: 5, high: 4, kind: "png"}.write(t))
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	good := makePack(t, "Site one")
	served := 0
	for range 60 {
		data := bytes.Clone(whole)
		for range 1 + r.IntN(20) {
			at := 100 + r.IntN(len(data)-200)
			for i := range 1 + r.IntN(60) {
				data[at+i] = byte(r.UintN(256))
			}
		}
		path := filepath.Join(t.TempDir(), "broken.mbtiles")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := Open(t.Context(), []string{path, good}, Options{Page: page, Poll: -1})
		if err != nil {
			continue // refused: as good
		}
		served++
		id := s.Packs()[0].ID
		for _, at := range []tiles.ID{corner16, {Z: 16, X: corner16.X + 4, Y: corner16.Y + 3}, corner16.Parent(), corner16.Children()[3]} {
			w := httptest.NewRecorder()
			s.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/packs/"+id+"/tiles/"+at.String(), nil))
			if w.Code != 200 && w.Code != 204 && w.Code != 500 || w.Code == 200 && !strings.HasPrefix(w.Header().Get("Content-Type"), "image/") {
				t.Errorf("%v: %d %v", at, w.Code, w.Header())
			}
		}
		wantGood(t, s)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if served == 0 {
		t.Error("all were refused: nothing was shown")
	}
}

// bomb is a PNG that says it has side×side pixels, whole by its checksums.
func bomb(t *testing.T, side uint32) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := (&png.Encoder{}).Encode(&b, quartersImage()); err != nil {
		t.Fatal(err)
	}
	data := b.Bytes()
	binary.BigEndian.PutUint32(data[16:], side)
	binary.BigEndian.PutUint32(data[20:], side)
	binary.BigEndian.PutUint32(data[29:], crc32.ChecksumIEEE(data[12:29]))
	return data
}

// TestHostileImageBombs: an image that is small to send and huge to decode is
// neither decoded here nor sent to a phone.
func TestHostileImageBombs(t *testing.T) {
	for _, side := range []uint32{1025, 30000, 1 << 30} {
		_, h := besideAGood(t, hostileFile(t, bareTables, bomb(t, side)))
		before := heap()
		for _, path := range []string{hostileTile, "/packs/hostile/tiles/3/2/2.png", "/packs/hostile/tiles/9/160/160.png", "/packs/hostile/tiles/1/0/0.png"} {
			wantStatus(t, h, path, 500, 204)
		}
		if grown := heap() - before; grown > 64<<20 {
			t.Errorf("%d pixels: %d MB more memory", side, grown>>20)
		}
	}
}

func heap() int64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapSys)
}

// TestHostileBlobs: what is no image, or longer than any tile, is not sent.
func TestHostileBlobs(t *testing.T) {
	for name, data := range map[string]any{
		"page": []byte("<html><script>alert(1)</script>"), "svg": []byte(`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>`),
		"text": "hello", "number": 7, "real": 1.5, "huge": make([]byte, 40<<20), "huge image": append(quarters(t), make([]byte, 20<<20)...),
		"cut": quarters(t)[:500],
	} {
		t.Run(name, func(t *testing.T) {
			_, h := besideAGood(t, hostileFile(t, bareTables, data))
			for _, path := range []string{hostileTile, "/packs/hostile/tiles/3/2/2.png"} {
				if resp := wantStatus(t, h, path, 500); resp.Header.Get("Cache-Control") != "no-store" {
					t.Errorf("an error may be kept: %v", resp.Header)
				}
			}
		})
	}
}

// TestHostileMetadata: what a file says of itself is text wherever it is shown.
func TestHostileMetadata(t *testing.T) {
	path := hostileFile(t, `CREATE TABLE metadata(name, value); CREATE TABLE tiles(zoom_level, tile_column, tile_row, tile_data);
		INSERT INTO metadata VALUES('name','<script>alert(1)</script>../../x'),('format','png'),('attribution','<img src=x onerror=alert(2)><b>Survey</b>'),
		('description','</script><script>alert(3)</script>'),('minzoom','2'),('maxzoom','3'),('bounds','-inf,nan,1e999,0'),(NULL,NULL),(7,x'ff00');`, quarters(t))
	_, h := besideAGood(t, path)
	list := documentAt(t, h.URL+"/packs.json")["packs"].([]any)[0].(map[string]any)
	id := list["id"].(string)
	if strings.ContainsAny(id, "<>/.() ") {
		t.Errorf("the id is %q", id)
	}
	for _, doc := range []string{"about.json", "tilejson.json", "overlays.json"} {
		resp, body := get(t, h.URL+"/packs/"+id+"/"+doc)
		if resp.StatusCode != 200 || resp.Header.Get("Content-Type") != "application/json" || resp.Header.Get("X-Content-Type-Options") != "nosniff" || bytes.ContainsAny(body, "<>") {
			t.Errorf("%s: %s %v %s", doc, resp.Status, resp.Header, body)
		}
	}
	if a := documentAt(t, h.URL+"/packs/"+id+"/tilejson.json")["attribution"].(string); strings.ContainsAny(a, "<>") {
		t.Errorf("TileJSON's attribution is HTML: %q", a)
	}
}

// TestHostileCoordinates: addresses of no tile are that, however they are written.
func TestHostileCoordinates(t *testing.T) {
	_, h := besideAGood(t, hostileFile(t, bareTables, quarters(t)))
	for _, at := range []string{
		"31/0/0", "30/1073741824/0", "4294967295/0/0", "99999999999999999999/0/0", "2/4/0", "2/0/4", "-1/0/0", "2/-1/1", "2/1/-1", "2/1.5/1", "2/1/1e0",
		"0x2/1/1", "+2/1/1", "2/%D9%A1/1", "2/1/", "2//1", "//1", "2/1", "2/1/1/1", "%00/1/1", "2/1/..%2f1", "2/1/..",
	} {
		wantStatus(t, h, "/packs/hostile/tiles/"+at, 404, 301, 307)
	}
	for _, at := range []string{"30/1073741823/1073741823", "30/0/0", "0/0/0"} {
		wantStatus(t, h, "/packs/hostile/tiles/"+at, 204, 200)
	}
}

// TestHostileColumns: rows of any types and places neither crash nor hide others.
func TestHostileColumns(t *testing.T) {
	path := hostileFile(t, `CREATE TABLE metadata(name, value); CREATE TABLE tiles(zoom_level, tile_column, tile_row, tile_data);
		INSERT INTO metadata VALUES('name',zeroblob(10)),('format','png'),('minzoom','x'),('maxzoom',-7);
		INSERT INTO tiles VALUES('two','one','two',x'00'),(NULL,NULL,NULL,NULL),(x'02',x'01',x'02',1),(2.5,1.5,2.5,'x'),(3,1e300,-1e300,x'01'),(-5,1,1,x'00'),(9223372036854775807,0,0,x'00');`, quarters(t))
	if _, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: -1}); err == nil || !strings.Contains(err.Error(), "tile") {
		t.Errorf("zooms of all kinds: %v", err)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`UPDATE metadata SET value='2' WHERE name='minzoom'; UPDATE metadata SET value='3' WHERE name='maxzoom'; UPDATE metadata SET value='Hostile' WHERE name='name'`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	_, h := besideAGood(t, path)
	wantStatus(t, h, hostileTile, 200)
	wantStatus(t, h, "/packs/hostile/tiles/3/1/1.png", 204)
	wantStatus(t, h, "/packs/hostile/tiles/3/2/2.png", 200)
}

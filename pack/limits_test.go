package pack

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
)

// limitsOf are the limits of a file made by SQL.
func limitsOf(t *testing.T, statements string) ([]tiles.Limit, *Pack) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "made.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE metadata(name text, value text); INSERT INTO metadata VALUES('name','Made'),('format','png'); ` + statements); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	p, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p.Limits(), p
}

const plainTiles = `CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob); `

// TestLimits: rows are counted from the north, a zoom without tiles is left
// out, and what is no place does not count.
func TestLimits(t *testing.T) {
	const values = `INSERT INTO metadata VALUES('minzoom','2'),('maxzoom','4'),('bounds','-180,-85,180,85');
	 INSERT INTO tiles VALUES(2,1,3,x'00'),(2,2,0,x'00'),(4,3,14,x'00'),(4,3,15,x'00'),(4,9,7,x'00'),(4,'zebra',2,x'00'),(4,5,-3,x'00'),(4,16,1,x'00'),(4,6,'a',x'00');`
	want := []tiles.Limit{{Zoom: 2, MinRow: 0, MaxRow: 3, MinCol: 1, MaxCol: 2}, {Zoom: 4, MinRow: 0, MaxRow: 8, MinCol: 3, MaxCol: 9}}
	for name, tables := range map[string]string{
		"no index": plainTiles + values,
		"index":    plainTiles + values + `CREATE UNIQUE INDEX place ON tiles(zoom_level, tile_column, tile_row)`,
		"view":     `CREATE TABLE place(zoom_level, tile_column, tile_row, tile_data); CREATE VIEW tiles AS SELECT * FROM place; INSERT INTO metadata VALUES('minzoom','2'),('maxzoom','4'); INSERT INTO place VALUES(2,1,3,x'00'),(2,2,0,x'00'),(4,3,14,x'00'),(4,3,15,x'00'),(4,9,7,x'00')`,
	} {
		if got, _ := limitsOf(t, tables); !slices.Equal(got, want) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// TestLimitsOfAPack: those of the cover, with images kept once or not.
func TestLimitsOfAPack(t *testing.T) {
	for _, shades := range []int{1, 200} {
		h := held{}
		c := tiles.NewCover(9, []tiles.Span{{Row: 100, First: 40, Last: 47}, {Row: 101, First: 30, Last: 41}, {Row: 102, First: 33, Last: 33}})
		n := 0
		for id := range c.All() {
			h.put(id, flat(t, uint8(n%shades), "png"), "png")
			n++
		}
		p, _ := write(t, content(h, c))
		if got, want := p.Limits(), []tiles.Limit{{Zoom: 9, MinRow: 100, MaxRow: 102, MinCol: 30, MaxCol: 47}}; !slices.Equal(got, want) {
			t.Errorf("%d images: %+v", shades, got)
		}
	}
}

// TestSlowLimits: a large file without an index costs its time once; the bounds
// stand in.
func TestSlowLimits(t *testing.T) {
	got, p := limitsOf(t, `INSERT INTO metadata VALUES('minzoom','1'),('maxzoom','16'),('bounds','1,1,2,2'); `+plainTiles+`
	 WITH RECURSIVE c(i) AS (SELECT 0 UNION ALL SELECT i+1 FROM c WHERE i<59999) INSERT INTO tiles SELECT 16, i, 5, x'00' FROM c`)
	if len(got) != 16 || got[0] != (tiles.Limit{Zoom: 1, MinCol: 1, MaxCol: 1}) || got[1] != (tiles.Limit{Zoom: 2, MinRow: 1, MaxRow: 1, MinCol: 2, MaxCol: 2}) {
		t.Errorf("%+v", got)
	}
	began := time.Now()
	if again := p.Limits(); len(again) != 16 || time.Since(began) > limitsTime/2 {
		t.Errorf("asked again: %d, after %s", len(again), time.Since(began))
	}
}

// BenchmarkLimits tells what the limits of a large zoom cost: 1000 columns of
// 1000 rows.
func BenchmarkLimits(b *testing.B) {
	path := filepath.Join(b.TempDir(), "large.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	const n = 1000
	if _, err := db.Exec(fmt.Sprintf(`CREATE TABLE metadata(name text, value text); INSERT INTO metadata VALUES('format','png'),('minzoom','20'),('maxzoom','20'); %s
	 WITH RECURSIVE c(i) AS (SELECT 0 UNION ALL SELECT i+1 FROM c WHERE i<%d) INSERT INTO tiles SELECT 20, 1000+i/%d, 1000+i%%%d, x'00' FROM c;
	 CREATE UNIQUE INDEX place ON tiles(zoom_level, tile_column, tile_row)`, plainTiles, n*n-1, n, n)); err != nil {
		b.Fatal(err)
	}
	if err := db.Close(); err != nil {
		b.Fatal(err)
	}
	p, err := Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	defer p.Close()
	for b.Loop() {
		if l := p.findLimits(); len(l) != 1 || l[0].MaxCol != 1000+n-1 {
			b.Fatalf("%+v", l)
		}
	}
}

package pack

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/sqlite"
)

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	file := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	database := func(name, schema string) string {
		path := filepath.Join(dir, name)
		db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
		defer db.Close()
		if _, err := db.Exec(schema); err != nil {
			t.Fatal(err)
		}
		return path
	}
	h := held{}
	h.put(tiles.ID{Z: 3, X: 1, Y: 1}, flat(t, 1, "png"), "png")
	p, _ := write(t, content(h, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 1}})))
	whole, err := os.ReadFile(p.Path)
	if err != nil {
		t.Fatal(err)
	}
	const tables = `CREATE TABLE metadata(name text, value text); CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);`
	cases := map[string]struct{ path, says string }{
		"missing":      {filepath.Join(dir, "none.mbtiles"), "no such file"},
		"folder":       {dir, "is a folder"},
		"empty":        {file("empty", nil), "not a SQLite file"},
		"text":         {file("text", []byte(strings.Repeat("hello ", 100))), "not a SQLite file"},
		"truncated":    {file("cut", whole[:len(whole)/2]), "cut short"},
		"no tables":    {database("bare", `CREATE TABLE t(a)`), "not an MBTiles file"},
		"no tiles":     {database("half", `CREATE TABLE metadata(name text, value text)`), "not an MBTiles file"},
		"vector tiles": {database("pbf", tables+`INSERT INTO metadata VALUES('format','pbf'); INSERT INTO tiles VALUES(0,0,0,'x')`), "as what its layers are drawn"},
		"no about":     {database("gutted", tables+`INSERT INTO metadata VALUES('format','png'),('minzoom','1'),('maxzoom','2'); CREATE TABLE groundsheet_document(key,body)`), "what it says of itself is missing"},
		"endless":      {database("endless", `CREATE VIEW metadata AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM c) SELECT x AS name, x AS value FROM c WHERE x<0; CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob)`), "not an MBTiles file"},
		"swollen":      {database("swollen", `CREATE VIEW metadata AS SELECT 'a' AS name, zeroblob(300000000) AS value; CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob)`), "not an MBTiles file"},
		"no tile":      {database("hollow", tables+`INSERT INTO metadata VALUES('format','png')`), "holds no tile"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			p, err := Open(t.Context(), c.path)
			if err == nil {
				_ = p.Close()
			}
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Kind != NotPack || !strings.Contains(err.Error(), c.says) || bad.Remedy == "" {
				t.Errorf("%v", err)
			}
		})
	}
}

// TestUnfinishedWriting: what stands in a write-ahead log would not be seen.
func TestUnfinishedWriting(t *testing.T) {
	h := held{}
	h.put(tiles.ID{Z: 3, X: 1, Y: 1}, flat(t, 1, "png"), "png")
	p, _ := write(t, content(h, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 1}})))
	if err := os.WriteFile(p.Path+"-wal", []byte("something"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), p.Path); err == nil || !strings.Contains(err.Error(), "has not finished") {
		t.Errorf("%v", err)
	}
}

// TestCancelledOpenIsNoVerdict: a stopped run says nothing about the file.
func TestCancelledOpenIsNoVerdict(t *testing.T) {
	h := held{}
	h.put(tiles.ID{Z: 3, X: 1, Y: 1}, flat(t, 1, "png"), "png")
	p, _ := write(t, content(h, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 1}})))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Open(ctx, p.Path); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// TestForeignFile: any MBTiles of raster tiles can be served.
func TestForeignFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "foreign.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE metadata(name text, value text); CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
	 INSERT INTO metadata VALUES('name','Foreign'),('format','png'),('attribution','<script>x</script><a href="u">Survey &amp; Co</a>'),('bounds','junk');
	 INSERT INTO tiles VALUES(2,1,3,?)`, flat(t, 1, "png")); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	p, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if p.Info.Own || p.Info.Zooms != (tiles.Zooms{Min: 2, Max: 2}) || p.Info.About.Source.Attribution != "xSurvey & Co" {
		t.Errorf("%+v", p.Info)
	}
	if data, err := p.Tile(t.Context(), tiles.ID{Z: 2, X: 1, Y: 0}); err != nil || data == nil {
		t.Errorf("row 3 of 4 from the south is row 0 from the north: %v", err)
	}
}

// TestOverlayIDs: an overlay's ID is a part of its address and must not lead to
// another pack.
func TestOverlayIDs(t *testing.T) {
	h := held{}
	h.put(tiles.ID{Z: 3, X: 1, Y: 1}, flat(t, 1, "png"), "png")
	for id, good := range map[string]bool{"1-water": true, "../../other/overlays/1-water": false, "1 water": false, "1?water": false, "": false} {
		p, _ := write(t, content(h, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 1}})))
		db := sqlite.Open(p.Path, sqlite.Options{Settings: "mode=rwc"})
		if _, err := db.Exec(`DELETE FROM groundsheet_overlay; INSERT INTO groundsheet_overlay(id,position,summary,features) VALUES('x',0,json_object('id',?),'{}')`, id); err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		again, err := Open(t.Context(), p.Path)
		if err == nil {
			_ = again.Close()
		}
		if (err == nil) != good || !good && !strings.Contains(err.Error(), "its overlays") {
			t.Errorf("%q: %v", id, err)
		}
	}
}

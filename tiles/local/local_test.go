package local_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/local"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
)

// picture is a small PNG that differs with its number.
func picture(n int) []byte {
	m := image.NewNRGBA(image.Rect(0, 0, 8, 8))
	for i := range 64 {
		m.Set(i%8, i/8, color.NRGBA{uint8(n), uint8(n >> 8), uint8(i), 255})
	}
	var b bytes.Buffer
	_ = png.Encode(&b, m) // to memory
	return b.Bytes()
}

// number is the picture of a tile: row counted from the north.
func number(t tiles.ID) int { return int(t.Z*4096 + t.X*64 + t.Y) }

// database makes an MBTiles file with all tiles of zooms 0 to 2 but one, and
// more statements.
func database(t *testing.T, format string, more ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a ?#%.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	defer db.Close()
	do := func(q string, args ...any) {
		t.Helper()
		if _, err := db.Exec(q, args...); err != nil {
			t.Fatal(err)
		}
	}
	do(`CREATE TABLE metadata (name text, value text)`)
	do(`CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)`)
	do(`INSERT INTO metadata VALUES ('name', 'Town'), ('format', ?), ('bounds', '-10,-20,30,40.5'), ('attribution', '<b>T</b>')`, format)
	for z := range uint32(3) {
		for x := range uint32(1) << z {
			for y := range uint32(1) << z {
				id := tiles.ID{Z: z, X: x, Y: y}
				if id == (tiles.ID{Z: 2, X: 3, Y: 0}) {
					continue
				}
				do(`INSERT INTO tiles VALUES (?, ?, ?, ?)`, z, x, 1<<z-1-y, picture(number(id)))
			}
		}
	}
	for _, q := range more {
		do(q)
	}
	return path
}

// files writes the same tiles as files below a new folder.
func files(t *testing.T, name func(tiles.ID) string) string {
	t.Helper()
	dir := t.TempDir()
	for z := range uint32(3) {
		for x := range uint32(1) << z {
			for y := range uint32(1) << z {
				id := tiles.ID{Z: z, X: x, Y: y}
				if id == (tiles.ID{Z: 2, X: 3, Y: 0}) {
					continue
				}
				put(t, filepath.Join(dir, name(id)), picture(number(id)))
			}
		}
	}
	return dir
}

func put(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

func opened(ctx context.Context, kind, file string) (*local.Files, error) {
	if kind == source.KindMBTiles {
		return local.OpenMBTiles(ctx, file, false)
	}
	return local.OpenFolder(file, source.Source{Name: "a", Kind: kind, File: file}.Path)
}

func open(t *testing.T, kind, file string) *local.Files {
	t.Helper()
	f, err := opened(t.Context(), kind, file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// ask sends a request through a real client, as the fetcher does.
func ask(t *testing.T, f *local.Files, id tiles.ID, header ...string) (*http.Response, []byte, error) {
	t.Helper()
	src := source.Source{Name: "a", Kind: source.KindFolder, Resolved: source.Resolved{Templates: []string{f.Template}}, Zooms: tiles.Zooms{Max: 24}}
	address, err := src.Address(id)
	if err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := (&http.Client{Transport: f}).Do(req)
	if err != nil {
		return nil, nil, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	return resp, body, err
}

func TestEveryFormGivesTheSameTiles(t *testing.T) {
	north := func(t tiles.ID) string { return fmt.Sprintf("%d/%d/%d.png", t.Z, t.X, t.Y) }
	south := func(t tiles.ID) string { return fmt.Sprintf("%d/%d/%d.png", t.Z, t.X, t.TMSRow()) }
	odd := func(t tiles.ID) string { return fmt.Sprintf("L%d/row %d/c%d", t.Z, t.Y, t.X) }
	for name, f := range map[string]*local.Files{
		"mbtiles":    open(t, source.KindMBTiles, database(t, "png")),
		"from north": open(t, source.KindFolder, files(t, north)+"/{z}/{x}/{y}.png"),
		"from south": open(t, source.KindFolder, files(t, south)+"/{z}/{x}/{-y}.png"),
		"odd names":  open(t, source.KindFolder, files(t, odd)+"/L{z}/row {y}/c{x}"),
	} {
		t.Run(name, func(t *testing.T) {
			for z := range uint32(4) {
				for x := range uint32(1) << z {
					for y := range uint32(1) << z {
						id := tiles.ID{Z: z, X: x, Y: y}
						resp, body, err := ask(t, f, id)
						if err != nil {
							t.Fatal(err)
						}
						if z == 3 || id == (tiles.ID{Z: 2, X: 3, Y: 0}) {
							if resp.StatusCode != 404 {
								t.Errorf("%v: %s for a tile that is not there", id, resp.Status)
							}
							continue
						}
						if resp.StatusCode != 200 || !bytes.Equal(body, picture(number(id))) || resp.Header.Get("Content-Type") != "image/png" || resp.ContentLength != int64(len(body)) {
							t.Fatalf("%v: %s, %d bytes, %v", id, resp.Status, len(body), resp.Header)
						}
					}
				}
			}
		})
	}
}

func TestValidators(t *testing.T) {
	for name, f := range map[string]*local.Files{
		"mbtiles": open(t, source.KindMBTiles, database(t, "png")),
		"folder":  open(t, source.KindFolder, files(t, func(t tiles.ID) string { return t.String() })+"/{z}/{x}/{y}"),
	} {
		id := tiles.ID{Z: 1, X: 1}
		first, _, err := ask(t, f, id)
		if err != nil {
			t.Fatal(err)
		}
		other, _, err := ask(t, f, tiles.ID{Z: 1})
		if err != nil {
			t.Fatal(err)
		}
		etag, modified := first.Header.Get("ETag"), first.Header.Get("Last-Modified")
		if etag == "" || modified == "" || etag == other.Header.Get("ETag") || first.Header.Get("Date") == "" {
			t.Fatalf("%s: %v", name, first.Header)
		}
		for _, c := range []struct {
			header []string
			status int
		}{
			{[]string{"If-None-Match", etag}, 304}, {[]string{"If-Modified-Since", modified}, 304}, {[]string{"If-None-Match", `"x"`}, 200},
			{[]string{"If-None-Match", `"x"`, "If-Modified-Since", modified}, 200}, // RFC 9110, 13.1.3
		} {
			resp, body, err := ask(t, f, id, c.header...)
			if err != nil || resp.StatusCode != c.status || (len(body) == 0) != (c.status == 304) {
				t.Errorf("%s, %v: %v, %v", name, c.header, resp, err)
			}
		}
	}
}

func TestUnusable(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "text.mbtiles")
	put(t, text, bytes.Repeat([]byte("no database "), 500))
	wal := database(t, "png")
	put(t, wal+"-wal", []byte("x"))
	empty := database(t, "png", `DELETE FROM tiles`)
	cases := []struct{ name, kind, file, says string }{
		{"no file", source.KindMBTiles, filepath.Join(dir, "none.mbtiles"), "no such file"},
		{"a folder", source.KindMBTiles, dir, "not a file"},
		{"text", source.KindMBTiles, text, "not an MBTiles file"},
		{"vector", source.KindMBTiles, database(t, "pbf"), "vector tiles"},
		{"another format", source.KindMBTiles, database(t, "image/avif"), "image/avif"},
		{"no tiles table", source.KindMBTiles, database(t, "png", `DROP TABLE tiles`), "not an MBTiles file"},
		{"being written", source.KindMBTiles, wal, "-wal"},
		{"no folder", source.KindFolder, filepath.Join(dir, "none", "{z}/{x}/{y}"), "no such file"},
		{"a file for a folder", source.KindFolder, filepath.Join(text, "{z}/{x}/{y}"), "not a directory"},
	}
	for _, c := range cases {
		_, err := opened(t.Context(), c.kind, c.file)
		var no *fault.Fault
		if !errors.Is(err, local.Unusable) || !errors.As(err, &no) || !strings.Contains(err.Error(), c.says) || no.Remedy == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	for name, path := range map[string]string{"empty": empty, "no zooms": dir, "none": filepath.Join(dir, "none")} {
		if _, err := local.Describe(t.Context(), path); !errors.Is(err, local.Unusable) {
			t.Errorf("look at %s: %v", name, err)
		}
	}
}

// TestFolderIsNotLeft: neither by a link nor by a pipe that waits.
func TestFolderIsNotLeft(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret")
	put(t, secret, []byte("secret"))
	dir := files(t, func(t tiles.ID) string { return t.String() })
	link := func(to, name string) {
		t.Helper()
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	put(t, filepath.Join(dir, "3/0/1"), nil) // makes the folders; an empty file is no tile
	link(secret, "3/0/0")
	link("../../1/0/0", "3/0/2")
	f := open(t, source.KindFolder, dir+"/{z}/{x}/{y}")
	if _, body, err := ask(t, f, tiles.ID{Z: 3}); err == nil {
		t.Errorf("a link out of the folder was followed: %q", body)
	}
	if resp, body, err := ask(t, f, tiles.ID{Z: 3, Y: 2}); err != nil || !bytes.Equal(body, picture(number(tiles.ID{Z: 1}))) {
		t.Errorf("a link inside the folder was not followed: %v, %v", resp, err)
	}
	if resp, _, err := ask(t, f, tiles.ID{Z: 3, Y: 1}); err != nil || resp.StatusCode != 404 {
		t.Errorf("an empty file: %v, %v", resp, err)
	}
	if err := os.Mkdir(filepath.Join(dir, "3/0/4"), 0o755); err != nil {
		t.Fatal(err)
	}
	if _, _, err := ask(t, f, tiles.ID{Z: 3, Y: 4}); err == nil {
		t.Error("a folder was read as a tile")
	}
}

func TestHostileDatabase(t *testing.T) {
	// A view that never ends must not be waited for longer than the request.
	path := database(t, "png", `DROP TABLE tiles`,
		`CREATE TABLE n(i)`, `WITH RECURSIVE m(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM m WHERE i<1000) INSERT INTO n SELECT i FROM m`,
		`CREATE VIEW tiles AS SELECT a.i AS zoom_level, b.i AS tile_column, c.i AS tile_row, zeroblob(9) AS tile_data FROM n a, n b, n c, n d, n e WHERE a.i+b.i+c.i+d.i+e.i < 0`)
	f := open(t, source.KindMBTiles, path)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://local.invalid/1/0/0", nil)
	if err != nil {
		t.Fatal(err)
	}
	if resp, err := f.RoundTrip(req); err == nil {
		t.Errorf("%v", resp)
	}
	// One that grows without bound when it is looked at is not looked at.
	path = database(t, "png", `DROP TABLE tiles`, `CREATE VIEW tiles AS WITH n(i) AS (SELECT 1) SELECT i AS zoom_level, i AS tile_column, i AS tile_row, zeroblob(9) AS tile_data FROM n`)
	if _, err := local.OpenMBTiles(t.Context(), path, false); err == nil || !strings.Contains(err.Error(), "WITH") {
		t.Errorf("%v", err)
	}
	// Functions of the application cannot be called from its schema.
	path = database(t, "png", `DROP TABLE tiles`, `CREATE VIEW tiles AS SELECT 0 AS zoom_level, 0 AS tile_column, 0 AS tile_row, load_extension('x') AS tile_data`)
	if f, err := local.OpenMBTiles(t.Context(), path, false); err == nil {
		defer f.Close()
		if _, _, err := ask(t, f, tiles.ID{}); err == nil {
			t.Error("an unsafe function was called")
		}
	}
}

func TestLook(t *testing.T) {
	path := database(t, "png")
	a, err := local.Describe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if a.Kind != "mbtiles" || a.File != path || a.Name != "Town" || a.Attribution != "<b>T</b>" || a.Zooms != (tiles.Zooms{Max: 2}) ||
		a.Bounds == nil || *a.Bounds != (tiles.Box{West: -10, South: -20, East: 30, North: 40.5}) || len(a.Sample) == 0 {
		t.Errorf("%+v", a)
	}
	dir := files(t, func(t tiles.ID) string { return t.String() + ".png" })
	a, err = local.Describe(t.Context(), dir)
	if err != nil || a.Kind != "folder" || a.File != dir+"/{z}/{x}/{y}.png" || a.Zooms != (tiles.Zooms{Max: 2}) || a.RowsFrom != "" || len(a.Sample) == 0 {
		t.Errorf("%+v, %v", a, err)
	}
	put(t, filepath.Join(dir, "tilemapresource.xml"), []byte("<TileMap/>"))
	if a, err = local.Describe(t.Context(), dir); err != nil || a.RowsFrom != "south" {
		t.Errorf("%+v, %v", a, err)
	}
}

// Any bytes as a database: an error or an answer, no panic.
func FuzzMBTiles(f *testing.F) {
	f.Add([]byte("SQLite format 3\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), "a.mbtiles")
		put(t, path, data)
		if files, err := local.OpenMBTiles(t.Context(), path, false); err == nil {
			defer files.Close()
			_, _, _ = ask(t, files, tiles.ID{})
		}
		_, _ = local.Describe(t.Context(), path)
	})
}

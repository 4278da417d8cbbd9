package check

import (
	"crypto/sha256"
	"encoding/hex"
	"image"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
)

// striped is a picture of no place that is not of one color.
func striped(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for i := range img.Pix {
		img.Pix[i] = uint8(i/4%7) * 20
	}
	data, err := raster.Encode(img, raster.PNG)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// A pack names the pictures that are most likely no imagery, and stops being
// fit when the terms no longer allow keeping it.
func TestNoImageryInOurOwnPack(t *testing.T) {
	h := whole(t)
	fetched := time.Date(2026, 11, 1, 8, 0, 0, 0, time.UTC)
	for id, r := range h {
		r.Fetched = fetched
		h[id] = r
	}
	bad := tiles.ID{Z: 11, X: 10, Y: 10}
	h.put(bad, striped(t), "png")
	sum := sha256.Sum256(h[bad].Data)
	path := filepath.Join(t.TempDir(), "c.mbtiles")
	box, _ := deep.Bounds()
	c := pack.Content{
		About: about(), Bounds: box, Covers: []tiles.Cover{shallow, deep}, Area: []byte(`{}`), Tiles: h,
		Terms:       &source.Terms{KeepAtMost: measure.Age(30 * 24 * time.Hour)},
		Suspects:    []pack.Suspect{{SHA256: hex.EncodeToString(sum[:]), Places: 40}},
		Placeholder: func(hash [32]byte) bool { return hash == h[tiles.ID{Z: 11, X: 11, Y: 10}].Hash },
	}
	if _, err := pack.Write(t.Context(), path, c, pack.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	look := func(at time.Time) Report {
		r, err := Run(t.Context(), path, Options{Now: func() time.Time { return at }})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r := look(fetched.Add(29 * 24 * time.Hour))
	if r.Verdict != Fit || r.Counts["placeholder"] != 3 || r.Counts["terms"] != 0 || r.Counts["hole"] != 1 {
		t.Errorf("%s %v", r.Verdict, r.Counts)
	}
	placed := false
	for _, f := range r.Findings {
		placed = placed || f.Kind == "placeholder" && f.Tile != nil && *f.Tile == tiles.ID{Z: 11, X: 10, Y: 10}
	}
	if !placed {
		t.Errorf("the tile is not named: %+v", r.Findings)
	}
	if r := look(fetched.Add(31 * 24 * time.Hour)); r.Verdict != NotFit || r.Counts["terms"] != 1 {
		t.Errorf("%s %v", r.Verdict, r.Counts)
	}
}

// In another program's file its own tiles tell.
func TestNoImageryInAnotherFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "other.mbtiles")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc"})
	if _, err := db.Exec(`CREATE TABLE metadata (name text, value text);
		CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
		INSERT INTO metadata VALUES ('name', 'other'), ('format', 'png'), ('minzoom', '12'), ('maxzoom', '12')`); err != nil {
		t.Fatal(err)
	}
	for x := range 30 {
		data := picture(t, 256, "png", uint8(x/20)) // flat ones repeat too
		if x%6 == 0 {
			data = striped(t)
		}
		if _, err := db.Exec(`INSERT INTO tiles VALUES (12, ?, 7, ?)`, x, data); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := Run(t.Context(), path, Options{})
	if err != nil || r.Counts["placeholder"] != 1 {
		t.Fatalf("%v, %v", err, r.Counts)
	}
	for _, f := range r.Findings {
		if f.Kind == "placeholder" && !strings.Contains(f.Detail, "5 places") {
			t.Error(f.Detail)
		}
	}
}

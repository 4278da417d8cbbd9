package serve

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"image/color"
	"iter"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// vectorPack packs two vector tiles of an invented town.
func vectorPack(t *testing.T) string {
	t.Helper()
	db := sqlite.OpenUntrusted(filepath.Join("..", "tiles", "mvt", "testdata", "town.mbtiles"), sqlite.Untrusted{Longest: 1 << 20})
	defer db.Close()
	first := tiles.ID{Z: 14, X: 3557, Y: 6477}
	path := filepath.Join(t.TempDir(), "town.mbtiles")
	_, err := pack.Write(t.Context(), path, pack.Content{
		About: pack.About{Name: "Town", TileSize: 512, Source: pack.AboutSource{CopiesOnPhones: source.CopiesAllowed, Drawn: []pack.Drawn{
			{Role: source.RoleBuilding, Layers: []string{"buildings"}}, {Role: source.RoleStreet, Layers: []string{"roads"}, Name: "FULLNAME"},
			{Role: source.RoleAddress, Layers: []string{"situs"}, Name: "NUM"},
		}}},
		Bounds: tiles.Box{West: -101.830, South: 35.2105, East: -101.826, North: 35.2140},
		Covers: []tiles.Cover{tiles.NewCover(14, []tiles.Span{{Row: first.Y, First: first.X, Last: first.X}, {Row: first.Y + 1, First: first.X, Last: first.X}})},
		Area:   []byte(`{"type":"FeatureCollection","features":[]}`),
		Tiles: store.CoverFunc(func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
			return func(yield func(store.Held, error) bool) {
				for id := range c.All() {
					var data []byte
					err := db.QueryRow(`SELECT tile_data FROM tiles WHERE zoom_level=? AND tile_column=? AND tile_row=?`, id.Z, id.X, id.TMSRow()).Scan(&data)
					if !yield(store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: string(raster.PBF)}, err) {
						return
					}
				}
			}
		}),
	}, pack.WriteOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestVectorTiles: packed vector tiles are sent as pictures, drawn anew for some zooms
// beyond the packed ones, and not deeper; streets lie where they are.
func TestVectorTiles(t *testing.T) {
	h := start(t, vectorPack(t))
	_, body := get(t, h.URL+"/packs/town/tilejson.json")
	var about struct {
		Tiles   []string
		MaxZoom int
		MinZoom int
	}
	if err := json.Unmarshal(body, &about); err != nil || about.MaxZoom != 18 || about.MinZoom != 14 || !strings.Contains(about.Tiles[0], ".png?v=") {
		t.Fatalf("%v %s", err, body)
	}
	for _, zoom := range []int{14, 16, 18} {
		street := 0
		for _, east := range []float64{20, 70, 130, 180} { // on W 300 South Street, whose name may be on one of them
			lon, lat := -101.83+east/91000, 35.21+200.0/111000
			id := tiles.At(lon, lat, zoom)
			resp, data := get(t, fmt.Sprintf("%s/packs/town/tiles/%s", h.URL, id))
			img, err := raster.Decode(data)
			if err != nil || resp.Header.Get("Content-Type") != "image/png" || resp.Header.Get("Groundsheet-Enlarged-From") != "" || img.Bounds().Dx() != 512 {
				t.Fatalf("zoom %d: %s %v", zoom, resp.Status, err)
			}
			x, y := tiles.Project(lon, lat)
			n := float64(uint64(512) << zoom)
			c := color.RGBAModel.Convert(img.At(int(x*n)-int(id.X)*512, int(y*n)-int(id.Y)*512)).(color.RGBA)
			if c.R == 255 && c.G == 255 && c.B == 255 {
				street++
			}
		}
		if street < 2 {
			t.Errorf("zoom %d: street at %d of 4 places", zoom, street)
		}
	}
	if resp, _ := get(t, fmt.Sprintf("%s/packs/town/tiles/%s", h.URL, tiles.At(-101.828, 35.212, 19))); resp.StatusCode != 204 {
		t.Errorf("zoom 19: %s", resp.Status)
	}
	if resp, _ := get(t, fmt.Sprintf("%s/packs/town/tiles/%s", h.URL, tiles.At(-101, 35, 14))); resp.StatusCode != 204 {
		t.Errorf("beside the pack: %s", resp.Status)
	}
	_, body = get(t, h.URL+"/packs/town/about.json")
	for _, want := range []string{`"drawn":[{"role":"building"`, `"words":"street, as a line","shape":"line"`} {
		if !strings.Contains(string(body), want) {
			t.Errorf("no %s in %s", want, body)
		}
	}
	l, deepest := keepListAt(t, h.URL, "town"), 0
	for _, s := range l.Spans {
		deepest = max(deepest, s.Zoom)
		if strings.Trim(s.Marks, "-") != "" {
			t.Errorf("a tile that is drawn is to be proved by a hash: %+v", s)
		}
	}
	if deepest != 18 || l.Count == 0 {
		t.Errorf("%d tiles, as deep as %d", l.Count, deepest)
	}
}

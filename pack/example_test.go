package pack_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"image"
	"iter"
	"os"
	"path/filepath"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// gray holds the same gray tile everywhere.
type gray struct{ png []byte }

func (g gray) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for id := range c.All() {
			h := store.Held{Tile: tiles.Tile{ID: id, Data: g.png}, Hash: sha256.Sum256(g.png), Bytes: len(g.png), Media: "png"}
			if !yield(h, nil) {
				return
			}
		}
	}
}

func ExampleWrite() {
	dir, err := os.MkdirTemp("", "pack")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	png, err := raster.Encode(image.NewGray(image.Rect(0, 0, 256, 256)), raster.PNG)
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx, path := context.Background(), filepath.Join(dir, "site.mbtiles")
	cover := tiles.NewCover(16, []tiles.Span{{Row: 24640, First: 13640, Last: 13643}})
	box, _ := cover.Bounds()
	c := pack.Content{
		About: pack.About{Name: "Valve 12", TileSize: 256}, Bounds: box, Covers: []tiles.Cover{cover}, Tiles: gray{png},
		Area: []byte(`{"type":"FeatureCollection","features":[]}`),
	}
	for range 2 { // the second time its content has not changed
		w, err := pack.Write(ctx, path, c, pack.WriteOptions{})
		fmt.Println(w.Tiles, "tiles, written:", w.Rewritten, err)
	}
	p, err := pack.Open(ctx, path)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer p.Close()
	data, err := p.Tile(ctx, tiles.ID{Z: 16, X: 13640, Y: 24640})
	fmt.Println(p.Info.Name, p.Info.Format, len(data) == len(png), err)
	// Output:
	// 4 tiles, written: true <nil>
	// 4 tiles, written: false <nil>
	// Valve 12 png true <nil>
}

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"iter"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// The tiles of the bench lie at one zoom, so many in a row.
const (
	benchZoom = 18
	benchWide = 500
)

// benchTile is the n-th tile of the bench, in tile order.
func benchTile(n int) tiles.ID {
	return tiles.ID{Z: benchZoom, X: uint32(40000 + n%benchWide), Y: uint32(90000 + n/benchWide)}
}

// pictures are the JPEGs that the tiles of the bench are made of, 4 to 40 KB
// each, as imagery has them: invented noise on squares.
type pictures [][]byte

func newPictures() (pictures, error) {
	const kinds = 48
	r := rand.New(rand.NewPCG(18, 18))
	out := make(pictures, kinds)
	for i := range out {
		img := image.NewYCbCr(image.Rect(0, 0, 256, 256), image.YCbCrSubsampleRatio420)
		noise := 9 + i*i/15
		for k := range img.Y {
			img.Y[k] = byte(60 + (k>>5&7^k>>13)%7*16 + r.IntN(noise))
		}
		for k := range img.Cb {
			img.Cb[k], img.Cr[k] = byte(110+i), byte(130+k>>10)
		}
		var data bytes.Buffer
		if err := jpeg.Encode(&data, img, &jpeg.Options{Quality: 80}); err != nil {
			return nil, err
		}
		out[i] = data.Bytes()
	}
	return out, nil
}

// of is the image of a tile: one of the pictures with the tile's own comment
// (ISO/IEC 10918-1, B.2.4.5), so that no two tiles are the same.
func (p pictures) of(id tiles.ID) []byte {
	data, name := p[(id.X*7+id.Y*13)%uint32(len(p))], id.String()
	return slices.Concat(data[:2], []byte{0xff, 0xfe, 0, byte(len(name) + 2)}, []byte(name), data[2:])
}

// writeTiles writes z/x/y.jpg files and gives their mean length in bytes.
func writeTiles(dir string, n int) (mean float64, err error) {
	p, err := newPictures()
	if err != nil {
		return 0, err
	}
	total := 0
	for i := range n {
		id := benchTile(i)
		data := p.of(id)
		total += len(data)
		path := filepath.Join(dir, id.String()+".jpg")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return 0, err
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			return 0, err
		}
	}
	return float64(total) / float64(n), nil
}

// writeBenchPack packs the tiles that writeTiles writes as files.
func writeBenchPack(ctx context.Context, path string, n int) error {
	p, err := newPictures()
	if err != nil {
		return err
	}
	var spans []tiles.Span
	for at := 0; at < n; at += benchWide {
		first, last := benchTile(at), benchTile(min(at+benchWide, n)-1)
		spans = append(spans, tiles.Span{Row: first.Y, First: first.X, Last: last.X})
	}
	west, east := benchTile(0).Bounds(), benchTile(n-1).Bounds()
	_, err = pack.Write(ctx, path, pack.Content{
		About:  pack.About{Name: "bench", Units: "metric", TileSize: 256},
		Bounds: tiles.Box{West: west.West, South: east.South, East: max(east.East, west.East), North: west.North},
		Covers: []tiles.Cover{tiles.NewCover(benchZoom, spans)},
		Area:   []byte(`{"type":"FeatureCollection","features":[]}`),
		Tiles: store.CoverFunc(func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
			return func(yield func(store.Held, error) bool) {
				for id := range c.All() {
					data := p.of(id)
					if !yield(store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: "jpg"}, nil) {
						return
					}
				}
			}
		}),
	}, pack.WriteOptions{})
	return err
}

// writeLargePack makes a pack of a length in bytes that takes little room: the
// index of as many tiles as such a pack holds, with their images left out but
// for the first, and a hole as long as they would be. What opening a pack and
// finding a tile in it reads is the same.
func writeLargePack(ctx context.Context, path string, length int64) (err error) {
	p, err := newPictures()
	if err != nil {
		return err
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rwc", Pragmas: []string{"journal_mode=OFF", "synchronous=OFF"}})
	defer func() {
		if err = errors.Join(err, db.Close()); err == nil {
			err = lengthen(path, length)
		}
	}()
	db.SetMaxOpenConns(1)
	first := benchTile(0)
	_, err = db.ExecContext(ctx, fmt.Sprintf(`CREATE TABLE metadata(name text, value text);
		CREATE TABLE tiles(zoom_level integer, tile_column integer, tile_row integer, tile_data blob);
		INSERT INTO metadata VALUES('name','large'),('format','jpg');
		WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i<%d)
			INSERT INTO tiles SELECT %d, %d+i%%%d, %d-i/%[4]d, x'00' FROM n;
		CREATE UNIQUE INDEX tile_index ON tiles(zoom_level, tile_column, tile_row)`, length/18000, first.Z, first.X, benchWide, first.TMSRow()))
	if err == nil {
		_, err = db.ExecContext(ctx, `INSERT INTO tiles VALUES(?,?,?,?)`, first.Z, first.X, first.TMSRow(), p.of(first))
	}
	if err != nil {
		return fmt.Errorf("making the large pack: %w", err)
	}
	return nil
}

// lengthen makes a database longer by a hole, and lets its header say so (SQLite,
// "Database File Format", 1.3.8: the length in pages at offset 28).
func lengthen(path string, length int64) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	var pages [4]byte
	binary.BigEndian.PutUint32(pages[:], uint32(length/4096))
	if _, err := f.WriteAt(pages[:], 28); err != nil {
		return err
	}
	return f.Truncate(length / 4096 * 4096)
}

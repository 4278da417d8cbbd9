package main

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"

	"groundsheet/tiles"
)

// What pictures of one's own must show.
const (
	leastOfWarp    = 0.7   // of the speed of one gdalwarp over the same ground
	mostAllMemory  = 500.0 // MB resident: this program and its children
	rasterZoom     = 20
	rasterParallel = 2 // blocks warped at once, as the terms' connections by default
)

// rasterFirst is the north-west tile of the benched ground; it begins a block.
var rasterFirst = tiles.ID{Z: rasterZoom, X: 250016, Y: 394512}

// benchRaster measures tiles of one's own pictures beside gdalwarp.
func benchRaster(ctx context.Context, r repo) error {
	return inScratch(r, "raster", func(b *bench) error { return b.warping(ctx, 24, 3) })
}

// warping cuts side×side tiles out of a sparse orthophoto of 20 gigapixels whose
// pixels are there on that ground alone.
func (b *bench) warping(ctx context.Context, side, rounds int) error {
	path, err := b.orthophoto(ctx, side)
	if err != nil {
		return err
	}
	last := tiles.ID{Z: rasterZoom, X: rasterFirst.X + uint32(side) - 1, Y: rasterFirst.Y + uint32(side) - 1}
	north, south := rasterFirst.Edges(), last.Edges()
	pixels := fmt.Sprint(side * 256)
	var largest fetched
	all, err := inTurn(rounds, 2, func(which int) (spent, error) {
		if which == 0 {
			out := filepath.Join(b.dir, "warped.tif")
			defer os.Remove(out) //nolint:errcheck // the scratch folder goes at the end
			return timed(exec.CommandContext(ctx, "gdalwarp", "-q", "-overwrite", "-t_srs", "EPSG:3857", "-r", "cubic", "-dstalpha", "-te",
				fmt.Sprint(north.West), fmt.Sprint(south.South), fmt.Sprint(south.East), fmt.Sprint(north.North), "-ts", pixels, pixels, path, out))
		}
		got, err := b.fetch(ctx, fetchTask{Picture: path, Tiles: side * side, Side: side, Connections: rasterParallel})
		if got.peak+got.Children > largest.peak+largest.Children {
			largest = got
		}
		return got.spent, err
	})
	if err != nil {
		return err
	}
	n := float64(side * side)
	ratio := ratios(all[1], all[0], func(s spent) float64 { return 1 / s.wall.Seconds() })
	one, ours := all[0][rounds-1], all[1][rounds-1]
	b.aim(ratio >= leastOfWarp, "tiles of a picture, cut and kept, at %.2f of one gdalwarp over the same ground (median; aim %.1f)", ratio, leastOfWarp)
	fmt.Fprintf(b.out, "          gdalwarp %.0f tiles/s, kept %.0f tiles/s in the last round; %.1f and %.1f s of processor\n",
		n/one.wall.Seconds(), n/ours.wall.Seconds(), one.cpu.Seconds(), ours.cpu.Seconds())
	memory := largest.peak + largest.Children
	b.aim(memory < mostAllMemory, "%.0f MB resident at most: %.0f of this program, %.0f of %d children (aim below %.0f)",
		memory, largest.peak, largest.Children, rasterParallel, mostAllMemory)
	return nil
}

// orthophoto makes the sparse picture, 15 cm a pixel, and puts invented ground
// under the benched tiles.
func (b *bench) orthophoto(ctx context.Context, side int) (string, error) {
	const wide, high, pixel = 200_000, 100_000, 0.15
	tool := func(name string, args ...string) error {
		_, err := timed(exec.CommandContext(ctx, name, args...))
		return err
	}
	path, patch, placed := filepath.Join(b.dir, "ortho.tif"), filepath.Join(b.dir, "patch.ppm"), filepath.Join(b.dir, "patch.tif")
	err := tool("gdal_create", "-q", "-of", "GTiff", "-outsize", fmt.Sprint(wide), fmt.Sprint(high), "-bands", "3", "-a_srs", "EPSG:26915",
		"-a_ullr", "390000", "4510000", fmt.Sprint(390000+wide*pixel), fmt.Sprint(4510000-high*pixel), "-a_nodata", "0",
		"-co", "TILED=YES", "-co", "BLOCKXSIZE=512", "-co", "BLOCKYSIZE=512", "-co", "COMPRESS=JPEG",
		"-co", "PHOTOMETRIC=YCBCR", "-co", "SPARSE_OK=TRUE", "-co", "BIGTIFF=YES", path)
	if err != nil {
		return "", err
	}
	n := side*256*4/5 + 600 // pixels of the picture under the tiles, with a rim
	if err := writePatch(patch, n); err != nil {
		return "", err
	}
	// The middle of the ground, in the picture's system, is known by gdalwarp alone:
	// the patch is placed in Web Mercator and warped into the picture.
	last := tiles.ID{Z: rasterZoom, X: rasterFirst.X + uint32(side) - 1, Y: rasterFirst.Y + uint32(side) - 1}
	north, south, rim := rasterFirst.Edges(), last.Edges(), 60.0
	if err := tool("gdal_translate", "-q", "-a_srs", "EPSG:3857", "-a_ullr", fmt.Sprint(north.West-rim), fmt.Sprint(north.North+rim),
		fmt.Sprint(south.East+rim), fmt.Sprint(south.South-rim), patch, placed); err != nil {
		return "", err
	}
	return path, tool("gdalwarp", "-q", placed, path)
}

// writePatch writes invented ground: fields, and noise on them.
func writePatch(path string, side int) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintf(w, "P6\n%d %d\n255\n", side, side)
	r := rand.New(rand.NewPCG(20, 20))
	for y := range side {
		for x := range side {
			base := byte(70 + (x/90*37+y/70*53)%90)
			n := byte(r.IntN(24))
			_, _ = w.Write([]byte{base + n, base + 20 + n/2, base/2 + n}) // Flush tells
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

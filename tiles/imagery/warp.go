package imagery

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/gdal"
)

// Pixels are computed from the exact place within so many pixels of the picture:
// fine enough that blocks meet without a seam.
const warpError = "0.01"

// warp makes the picture of a block of n×n tiles from those that touch it: the
// later over the earlier. Nil when none touches it.
func (a *Answerer) warp(ctx context.Context, first tiles.ID, n int) (*image.NRGBA, error) {
	touching := a.touching(first, n)
	if len(touching) == 0 {
		return nil, nil
	}
	var out *image.NRGBA
	for len(touching) > 0 {
		same := 1
		for same < len(touching) && same < 500 && touching[same].layout == touching[0].layout {
			same++
		}
		part, err := a.warpAlike(ctx, touching[:same], first, n)
		if err != nil {
			return nil, err
		}
		if out == nil {
			out = part
		} else {
			draw.Draw(out, out.Rect, part, image.Point{}, draw.Over)
		}
		touching = touching[same:]
	}
	return out, nil
}

// warpAlike warps pictures of one layout in one run of gdalwarp.
func (a *Answerer) warpAlike(ctx context.Context, pictures []*picture, first tiles.ID, n int) (*image.NRGBA, error) {
	for _, p := range pictures {
		if err := p.unchanged(a.remote != nil); err != nil {
			return nil, err
		}
	}
	dir, err := os.MkdirTemp(a.gdal.Dir, "block")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // the whole folder goes at the end
	out, side := filepath.Join(dir, "block.bin"), n*a.src.TileSize
	c := gdal.Child{Program: "gdalwarp", Args: a.warpArgs(pictures, first, n), VRT: pictures[0].vrt, URL: a.address(*pictures[0])}
	c.Args = append(c.Args, out)
	select {
	case a.children <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	_, err = a.gdal.Run(ctx, c)
	<-a.children
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, unusable(named(pictures), err.Error(), "look whether the picture is whole: gdalinfo -checksum reads all of it")
	}
	f, err := os.Open(out)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	img := image.NewNRGBA(image.Rect(0, 0, side, side))
	if err := pictures[0].layout.read(bufio.NewReaderSize(f, 1<<20), img, a.src.Scale); err != nil {
		if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
			err = errors.New("GDAL wrote less than was asked for: perhaps the disk is full")
		}
		return nil, fmt.Errorf("%s: %w", named(pictures), err)
	}
	return img, nil
}

// named names one picture, or the first of several.
func named(pictures []*picture) string {
	if len(pictures) > 1 {
		return fmt.Sprintf("%s and %d more", pictures[0].name, len(pictures)-1)
	}
	return pictures[0].name
}

// warpArgs are the arguments of gdalwarp but for the file that it writes. All
// paths are whole ones, so none looks like an option.
func (a *Answerer) warpArgs(pictures []*picture, first tiles.ID, n int) []string {
	l := pictures[0].layout
	north, south := first.Edges(), tiles.ID{Z: first.Z, X: first.X + uint32(n) - 1, Y: first.Y + uint32(n) - 1}.Edges()
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	side := strconv.Itoa(n * a.src.TileSize)
	resampling := "cubic"
	if l.hasMap {
		resampling = "near" // numbers of a palette have nothing between them
	}
	args := []string{"-q", "-of", "ENVI", "-co", "INTERLEAVE=BIL", "-t_srs", "EPSG:3857",
		"-te", number(north.West), number(south.South), number(south.East), number(north.North), "-ts", side, side,
		"-r", resampling, "-et", warpError, "-wm", "32", "-dstalpha", "-ot", l.kind, "-wo", "UNIFIED_SRC_NODATA=YES"}
	if l.sourceAlpha() {
		args = append(args, "-srcalpha")
	} else {
		args = append(args, "-nosrcalpha")
	}
	if l.missing != "" {
		args = append(args, "-s_srs", l.missing)
	}
	if v := a.src.NoData; v != nil {
		args = append(args, "-srcnodata", strings.TrimSpace(strings.Repeat(number(*v)+" ", l.bands)))
	}
	for _, p := range pictures {
		args = append(args, p.path)
	}
	return args
}

// unchanged refuses a file that is not the one that was looked at any more.
func (p *picture) unchanged(remote bool) error {
	if remote || p.vrt {
		return nil
	}
	now, err := stampOf(p.path)
	switch {
	case err != nil:
		return unusable(p.name, withoutPath(err), "put it back, or take it out of sources.toml")
	case now.size != p.stamp.size || !now.modified.Equal(p.stamp.modified):
		return unusable(p.name, "it changed while it was read", "run again when it is finished")
	}
	return nil
}

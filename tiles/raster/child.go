package raster

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"github.com/disintegration/imaging"
)

// reach is how many parent pixels beyond a place the CatmullRom filter looks
// at. Cutting that much wider before enlarging makes neighboring children
// join without a seam.
const reach = 2

// Child is the part of a parent tile that a tile down zooms deeper covers,
// enlarged sharply to side×side pixels (0 means 256). Column x and row y count
// from the north-west corner of the parent, 0 to 2^down-1; beyond that they
// count as the last. Where the part is smaller than one parent pixel, the
// child has the one color of that pixel: there is nothing more to show.
func Child(parent image.Image, down, x, y uint32, side int) *image.RGBA {
	if side <= 0 {
		side = 256
	}
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	b := parent.Bounds()
	if b.Empty() {
		return out
	}
	across, along := cutOf(b.Dx(), down, x, side), cutOf(b.Dy(), down, y, side)
	switch {
	case down == 0 && b.Dx() == side && b.Dy() == side:
		draw.Draw(out, out.Rect, parent, b.Min, draw.Src)
	case across.size < 1 || along.size < 1:
		at := b.Min.Add(image.Pt(int(across.from), int(along.from)))
		r, g, bl, a := parent.At(at.X, at.Y).RGBA()
		c := color.RGBA{uint8(r >> 8), uint8(g >> 8), uint8(bl >> 8), uint8(a >> 8)}
		draw.Draw(out, out.Rect, image.NewUniform(c), image.Point{}, draw.Src)
	default:
		enlarge(out, parent, across, along)
	}
	return out
}

// childWindow is the part of a parent's width (or height) that a child covers, and
// where that part lies once the pixels around it are enlarged too.
type childWindow struct {
	from, size  float64 // in parent pixels from its edge
	first, last int     // parent pixels to enlarge: the part and its reach
	big         int     // those pixels enlarged
	skip        int     // enlarged pixels before the child begins
}

func cutOf(width int, down, index uint32, side int) childWindow {
	n := math.Ldexp(1, int(min(down, 64)))
	var c childWindow
	c.size = float64(width) / n
	c.from = min(float64(index), n-1) * c.size
	c.first = max(int(c.from)-reach, 0)
	c.last = min(int(math.Ceil(c.from+c.size))+reach, width)
	if c.size < 1 {
		return c
	}
	scale := float64(side) / c.size
	c.skip = int(math.Round((c.from - float64(c.first)) * scale))
	c.big = max(int(math.Round(float64(c.last-c.first)*scale)), c.skip+side)
	return c
}

// enlarge goes one direction at a time and cuts in between, so that the
// second pass does not work on pixels that fall outside.
func enlarge(out *image.RGBA, parent image.Image, across, along childWindow) {
	side := out.Rect.Dx()
	b := parent.Bounds()
	img := imaging.Crop(parent, image.Rect(across.first, along.first, across.last, along.last).Add(b.Min))
	img = imaging.Resize(img, across.big, img.Rect.Dy(), imaging.CatmullRom)
	img = imaging.Crop(img, image.Rect(across.skip, 0, across.skip+side, img.Rect.Dy()))
	img = imaging.Resize(img, side, along.big, imaging.CatmullRom)
	draw.Draw(out, out.Rect, img, image.Pt(0, along.skip), draw.Src)
}

package raster

import (
	"image"
	"image/color"
	"image/draw"
)

// Shrunk is a tile put together from tiles that lie some zooms deeper on the
// same ground; where none is put, it is see-through.
type Shrunk struct {
	out  *image.RGBA
	open int // pixels that nothing was put into yet
}

// NewShrunk begins a tile of side×side pixels (0 means 256).
func NewShrunk(side int) *Shrunk {
	if side <= 0 {
		side = 256
	}
	return &Shrunk{out: image.NewRGBA(image.Rect(0, 0, side, side)), open: side * side}
}

// Put shrinks a tile down zooms deeper into its place. Column x and row y count
// from the north-west corner, 0 to 2^down-1. Each pixel is the mean of those it
// stands for. A tile deeper than a pixel, or beside the ground, is passed over;
// each place may be put once.
func (s *Shrunk) Put(tile image.Image, down, x, y uint32) {
	side := s.out.Rect.Dx()
	part := side >> min(down, 31)
	b := tile.Bounds()
	if part < 1 || x >= 1<<down || y >= 1<<down || b.Empty() {
		return
	}
	to := image.Pt(int(x)*part, int(y)*part)
	mean := meanOf(tile)
	for row := range part {
		top, bottom := edges(row, part, b.Dy())
		for col := range part {
			left, right := edges(col, part, b.Dx())
			s.out.SetRGBA(to.X+col, to.Y+row, mean(image.Rect(left, top, right, bottom).Add(b.Min)))
		}
	}
	s.open -= part * part
}

// edges are the pixels that the i-th of n parts of a length stands for, at
// least one.
func edges(i, n, length int) (from, to int) {
	from = i * length / n
	return from, max((i+1)*length/n, from+1)
}

// meanOf gives the mean colour of a part of an image.
func meanOf(m image.Image) func(image.Rectangle) color.RGBA {
	if p, ok := m.(*image.YCbCr); ok {
		return func(r image.Rectangle) color.RGBA { return meanYCbCr(p, r) }
	}
	flat, ok := m.(*image.RGBA)
	if !ok {
		flat = image.NewRGBA(m.Bounds())
		draw.Draw(flat, flat.Rect, m, flat.Rect.Min, draw.Src)
	}
	return func(r image.Rectangle) color.RGBA { return meanRGBA(flat, r) }
}

func meanRGBA(m *image.RGBA, r image.Rectangle) color.RGBA {
	var sum [4]int
	for y := r.Min.Y; y < r.Max.Y; y++ {
		line := m.Pix[m.PixOffset(r.Min.X, y):][:4*r.Dx()]
		for i := 0; i < len(line); i += 4 {
			for k := range sum {
				sum[k] += int(line[i+k])
			}
		}
	}
	n := r.Dx() * r.Dy()
	for k := range sum {
		sum[k] = (sum[k] + n/2) / n
	}
	return color.RGBA{uint8(sum[0]), uint8(sum[1]), uint8(sum[2]), uint8(sum[3])}
}

func meanYCbCr(m *image.YCbCr, r image.Rectangle) color.RGBA {
	var luma, blue, red int
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for _, v := range m.Y[m.YOffset(r.Min.X, y):][:r.Dx()] {
			luma += int(v)
		}
		for x := r.Min.X; x < r.Max.X; x++ {
			at := m.COffset(x, y)
			blue, red = blue+int(m.Cb[at]), red+int(m.Cr[at])
		}
	}
	n := r.Dx() * r.Dy()
	mean := func(sum int) uint8 { return uint8((sum + n/2) / n) }
	cr, cg, cb := color.YCbCrToRGB(mean(luma), mean(blue), mean(red))
	return color.RGBA{cr, cg, cb, 255}
}

// Image gives the tile, and whether all of it was put.
func (s *Shrunk) Image() (tile image.Image, whole bool) { return s.out, s.open == 0 }

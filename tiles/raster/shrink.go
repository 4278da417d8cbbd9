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
// replaces. A tile deeper than a pixel, or outside the ground, is ignored;
// each place may be put once.
func (s *Shrunk) Put(tile image.Image, down, x, y uint32) {
	side := s.out.Rect.Dx()
	part := side >> min(down, 31)
	b := tile.Bounds()
	if part < 1 || x >= 1<<down || y >= 1<<down || b.Empty() {
		return
	}
	s.open -= part * part
	flat, ok := tile.(*image.RGBA)
	if !ok {
		flat = image.NewRGBA(b)
		draw.Draw(flat, b, tile, b.Min, draw.Src)
	}
	s.put(flat, image.Pt(int(x)*part, int(y)*part), part)
}

// pixelRange is the pixels from the first up to the last.
type pixelRange struct{ from, to int }

// spans are the pixels of each of n parts of a length, at least one.
func spans(n, length int) []pixelRange {
	all := make([]pixelRange, n)
	for i := range all {
		from := i * length / n
		all[i] = pixelRange{from, max((i+1)*length/n, from+1)}
	}
	return all
}

func (s *Shrunk) put(m *image.RGBA, at image.Point, part int) {
	sums, columns := make([][4]int, part), spans(part, m.Rect.Dx())
	for row, r := range spans(part, m.Rect.Dy()) {
		clear(sums)
		for y := r.from; y < r.to; y++ {
			line := m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y+y):][:4*m.Rect.Dx()]
			for col := range sums {
				c := columns[col]
				for i := 4 * c.from; i < 4*c.to; i += 4 {
					for k := range 4 {
						sums[col][k] += int(line[i+k])
					}
				}
			}
		}
		for col, sum := range sums {
			n := (r.to - r.from) * (columns[col].to - columns[col].from)
			mean := func(channel int) uint8 { return uint8((sum[channel] + n/2) / n) }
			s.out.SetRGBA(at.X+col, at.Y+row, color.RGBA{mean(0), mean(1), mean(2), mean(3)})
		}
	}
}

// Image gives the tile, and whether all of it was put.
func (s *Shrunk) Image() (tile image.Image, whole bool) { return s.out, s.open == 0 }

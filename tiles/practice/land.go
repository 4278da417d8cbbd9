package practice

import (
	"math"

	"groundsheet/tiles"
)

// Seeds keep the random numbers of one thing apart from those of another.
const (
	seedTown = iota + 3
	seedBendX
	seedBendY
	seedParcel
	seedBlock
	seedCreek
	seedTree
	seedTone
)

// side is the width and height of a tile in pixels.
const side = 256

// blockZoom is the zoom at which a tile is as large as a block of streets.
const blockZoom = 18

// block is the side of a block in meters. The layout uses units of
// the projection, so that it joins everywhere; meters are true at latitude 40,
// larger nearer the poles and smaller nearer the equator.
var block = tiles.CellSize(blockZoom) * side * math.Cos(40*math.Pi/180)

// land is the smooth layout of the place: where towns are, how the straight
// grid of streets and fields is bent, and the brightness of the ground.
type land struct {
	x, y float64 // north-west corner of the tile, in blocks from that of the world
	step float64 // blocks a pixel
	px   float64 // meters a pixel
	zoom int

	bendX, bendY octave
	town         [2]octave
	fine         []octave // of the brightness, with cells of 2 to 16 pixels
}

func landOf(t tiles.ID) *land {
	span := math.Ldexp(1, blockZoom-int(t.Z)) // blocks across the tile; exact
	l := &land{
		x: float64(t.X) * span, y: float64(t.Y) * span,
		step: span / side, px: span / side * block, zoom: int(t.Z),
		bendX: octaveOf(seedBendX, -4), bendY: octaveOf(seedBendY, -4),
		town: [2]octave{octaveOf(seedTown, -5), octaveOf(seedTown, -3)},
	}
	for fine := max(l.zoom-14, coarsest); fine <= l.zoom-11; fine++ {
		l.fine = append(l.fine, octaveOf(seedTone, fine))
	}
	return l
}

// builtUp is 1 in towns and 0 in the country, with a narrow edge between, at a
// place on the straight grid in blocks.
func (l *land) builtUp(u, v float64) float64 {
	return smooth(-0.14, -0.02, 0.75*l.town[0].at(u, v)+0.25*l.town[1].at(u, v))
}

// builtUpShare is the mean of builtUp over the world.
const builtUpShare = 0.58

// sample is the slowly changing part of the ground.
type sample struct {
	far, grain float64 // brightness: of octaves from 100 m up, and of finer ones
	town       float64 // [land.builtUp]
	u, v       float64 // the place on the straight grid, in blocks
}

func (a sample) to(b sample, t float64) sample {
	return sample{lerp(a.far, b.far, t), lerp(a.grain, b.grain, t), lerp(a.town, b.town, t), lerp(a.u, b.u, t),
		lerp(a.v, b.v, t)}
}

// spacing is the distance in pixels between computed samples; coarse is how
// many a tile has on a side.
const (
	spacing = 8
	coarse  = side/spacing + 1
)

// contrast is the brightness of an octave.
func contrast(fine int) float64 { return 0.04 + 0.005*float64(min(max(fine, 0), 8)) }

// offset moves the straight grid, in blocks, so that its lines do not run along
// the edges of tiles.
const offset = 1.63

// samples computes the coarse grid of a tile, without the octaves of l.fine.
func (l *land) samples() []sample {
	grid := make([]sample, coarse*coarse)
	for fine := coarsest; fine <= l.zoom-15; fine++ {
		o := octaveOf(seedTone, fine)
		for i := range grid {
			if n := contrast(fine) * o.at(l.corner(i)); fine < 1 {
				grid[i].far += n
			} else {
				grid[i].grain += n
			}
		}
	}
	for i := range grid {
		s := &grid[i]
		x, y := l.corner(i)
		s.u, s.v = x+offset-0.9*l.bendX.at(x, y), y+offset-0.9*l.bendY.at(x, y)
		// Where towns are smaller than pixels only their share counts.
		s.town = lerp(l.builtUp(s.u, s.v), builtUpShare, smooth(100, 400, l.px))
	}
	return grid
}

// corner is the place of sample i, in blocks.
func (l *land) corner(i int) (x, y float64) {
	return l.x + float64(i%coarse*spacing)*l.step, l.y + float64(i/coarse*spacing)*l.step
}

// row interpolates the samples for a row of pixels.
func row(grid []sample, y int, out *[coarse]sample) {
	t := (float64(y) + 0.5) / spacing
	i := int(t)
	for x := range out {
		out[x] = grid[i*coarse+x].to(grid[(i+1)*coarse+x], t-float64(i))
	}
}

// at interpolates a row at the middle of a pixel and adds the fine octaves to
// the grain.
func (l *land) at(row *[coarse]sample, x, y int) sample {
	t := (float64(x) + 0.5) / spacing
	i := int(t)
	s := row[i].to(row[i+1], t-float64(i))
	bx, by := l.x+(float64(x)+0.5)*l.step, l.y+(float64(y)+0.5)*l.step
	for k := range l.fine {
		s.grain += contrast(l.zoom-14+k) * l.fine[k].at(bx, by)
	}
	return s
}

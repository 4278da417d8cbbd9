package practice

import (
	"math"

	"groundsheet/tiles"
)

// side is the width and height of a tile in pixels.
const side = 256

// blockZoom is the zoom at which a tile is as large as a block of streets.
const blockZoom = 18

// block is the side of a block in metres. The place is laid out in units of
// the projection, so that it joins everywhere; metres are true at latitude 40,
// larger nearer the poles and smaller nearer the equator.
var block = tiles.CellSize(blockZoom) * side * math.Cos(40*math.Pi/180)

// view is where a tile lies in the invented place.
type view struct {
	zoom int
	x, y float64 // north-west corner, in blocks from the north-west of the world
	step float64 // blocks a pixel
	px   float64 // metres a pixel
}

func viewOf(t tiles.ID) view {
	span := math.Ldexp(1, blockZoom-int(t.Z)) // blocks across the tile; exact
	return view{int(t.Z), float64(t.X) * span, float64(t.Y) * span, span / side, span / side * block}
}

// blockX is the middle of a pixel column, in blocks.
func (v view) blockX(x int) float64 { return v.x + (float64(x)+0.5)*v.step }

// blockY is the middle of a pixel row, in blocks.
func (v view) blockY(y int) float64 { return v.y + (float64(y)+0.5)*v.step }

// point is a place in metres from the north-west corner of the tile, x to the
// east, y to the south.
type point struct{ x, y float64 }

// local turns blocks into metres from the corner of the tile.
func (v view) local(x, y float64) point { return point{(x - v.x) * block, (y - v.y) * block} }

func (p point) add(q point) point           { return point{p.x + q.x, p.y + q.y} }
func (p point) sub(q point) point           { return point{p.x - q.x, p.y - q.y} }
func (p point) times(k float64) point       { return point{p.x * k, p.y * k} }
func (p point) left() point                 { return point{p.y, -p.x} }
func (p point) length() float64             { return math.Sqrt(p.x*p.x + p.y*p.y) }
func (p point) to(q point, t float64) point { return p.add(q.sub(p).times(t)) }

// sees reports whether a disc may show on the tile.
func (v view) sees(p point, radius float64) bool {
	size := v.px * side
	return p.x > -radius && p.y > -radius && p.x < size+radius && p.y < size+radius
}

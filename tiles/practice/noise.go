package practice

import "math"

// mix scrambles 64 bits (the finaliser of splitmix64, from memory): the
// invented place is a function of position alone, so all chance in it comes
// from hashes.
func mix(h uint64) uint64 {
	h = (h ^ h>>30) * 0xbf58476d1ce4e5b9
	h = (h ^ h>>27) * 0x94d049bb133111eb
	return h ^ h>>31
}

// hash of a grid cell; columns repeat where the world closes at longitude 180.
func hash(seed uint64, col, row, columns int) uint64 {
	col &= columns - 1
	return mix(seed*0x9e3779b97f4a7c15 + uint64(uint32(col))<<32 + uint64(uint32(row)))
}

// unit turns a hash into a number from 0 to 1.
func unit(h uint64) float64 { return float64(h>>11) / (1 << 53) }

// dice is a row of chances that begins at a cell.
type dice uint64

func roll(seed uint64, col, row, columns int) dice { return dice(hash(seed, col, row, columns)) }

// next is a number from 0 to 1.
func (d *dice) next() float64 {
	*d += 0x9e3779b97f4a7c15
	return unit(mix(uint64(*d)))
}

// between is a number from lo to hi.
func (d *dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.next() }

// octave is one layer of value noise: chances at the corners of square cells,
// 2^fine cells in a block, blended smoothly between. Its mean is 0, so leaving
// an octave out at shallow zooms does not change the mean colour.
type octave struct {
	seed    uint64
	columns int     // cells around the world
	cells   float64 // cells in a block
	dx, dy  float64 // shift of the grid in cells, so that octaves do not line up
}

// coarsest is the octave with four cells around the world.
const coarsest = 2 - blockZoom

func octaveOf(seed uint64, fine int) octave {
	seed = mix(seed + uint64(fine+64)*977)
	d := dice(seed)
	return octave{seed, 1 << (blockZoom + fine), math.Ldexp(1, fine), d.next(), d.next()}
}

// corner is the chance at a corner, -1 to 1.
func (o *octave) corner(col, row int) float64 { return unit(hash(o.seed, col, row, o.columns))*2 - 1 }

// at is the noise at a place given in blocks, -1 to 1.
func (o *octave) at(x, y float64) float64 {
	cx, cy := x*o.cells+o.dx, y*o.cells+o.dy
	fx, fy := math.Floor(cx), math.Floor(cy)
	ix, iy := int(fx), int(fy)
	wx, wy := ease(cx-fx), ease(cy-fy)
	north := lerp(o.corner(ix, iy), o.corner(ix+1, iy), wx)
	south := lerp(o.corner(ix, iy+1), o.corner(ix+1, iy+1), wx)
	return lerp(north, south, wy)
}

func ease(t float64) float64           { return t * t * (3 - 2*t) }
func lerp(a, b, t float64) float64     { return a + (b-a)*t }
func smooth(lo, hi, v float64) float64 { return ease(clamp01((v - lo) / (hi - lo))) }

// clamp01 is written with branches because min and max cost more here.
func clamp01(t float64) float64 {
	if t < 0 {
		return 0
	}
	if t > 1 {
		return 1
	}
	return t
}

// add puts the octave, times an amplitude, onto a grid of tile pixels. The
// corners of a row are drawn once and shared by the pixels between them.
func (o *octave) add(v view, amplitude float64, grid []float32) {
	var cell [side]int
	var weight [side]float32
	first := int(math.Floor(v.blockX(0)*o.cells + o.dx))
	for x := range side {
		c := v.blockX(x)*o.cells + o.dx
		f := math.Floor(c)
		cell[x], weight[x] = int(f)-first, float32(ease(c-f))
	}
	n := cell[side-1] + 2
	north, south, row := make([]float32, n), make([]float32, n), make([]float32, n)
	last := math.MinInt
	for y := range side {
		c := v.blockY(y)*o.cells + o.dy
		f := math.Floor(c)
		if iy := int(f); iy != last {
			for i := range n {
				north[i] = float32(amplitude * o.corner(first+i, iy))
				south[i] = float32(amplitude * o.corner(first+i, iy+1))
			}
			last = iy
		}
		w := float32(ease(c - f))
		for i := range row {
			row[i] = north[i] + (south[i]-north[i])*w
		}
		line := grid[y*side : y*side+side]
		for x := range line {
			a := row[cell[x]]
			line[x] += a + (row[cell[x]+1]-a)*weight[x]
		}
	}
}

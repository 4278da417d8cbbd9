package practice

import "math"

// mix scrambles 64 bits (the finalizer of splitmix64, from memory). The
// invented place is a function of position alone, so all chance comes from
// hashes.
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

// dice is a sequence of random numbers, seeded by a grid cell.
type dice uint64

func roll(seed uint64, col, row, columns int) dice { return dice(hash(seed, col, row, columns)) }

// next is a number from 0 to 1.
func (d *dice) next() float64 {
	*d += 0x9e3779b97f4a7c15
	return unit(mix(uint64(*d)))
}

// between is a number from lo to hi.
func (d *dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.next() }

// octave is one layer of value noise: random numbers at the corners of square
// cells, 2^fine cells in a block, interpolated smoothly. Its mean is 0, so
// leaving an octave out at shallow zooms does not change the mean color.
type octave struct {
	seed    uint64
	columns int     // cells around the world
	cells   float64 // cells in a block
	dx, dy  float64 // shift of the grid in cells, so that octaves do not line up

	ix, iy  int        // the latest cell
	corners [4]float64 // of that cell, -1 to 1; hashing them is most of the work
}

// coarsest is the octave with four cells around the world.
const coarsest = 2 - blockZoom

func octaveOf(seed uint64, fine int) octave {
	seed = mix(seed + uint64(fine+64)*977)
	d := dice(seed)
	o := octave{seed: seed, columns: 1 << (blockZoom + fine), cells: math.Ldexp(1, fine), dx: d.next(), dy: d.next()}
	o.visit(0, 0)
	return o
}

// visit computes the corners of a cell.
func (o *octave) visit(ix, iy int) {
	o.ix, o.iy = ix, iy
	for i := range o.corners {
		o.corners[i] = unit(hash(o.seed, ix+i%2, iy+i/2, o.columns))*2 - 1
	}
}

// at is the noise at a place given in blocks, -1 to 1.
func (o *octave) at(x, y float64) float64 {
	cx, cy := x*o.cells+o.dx, y*o.cells+o.dy
	fx, fy := math.Floor(cx), math.Floor(cy)
	if ix, iy := int(fx), int(fy); ix != o.ix || iy != o.iy {
		o.visit(ix, iy)
	}
	wx := ease(cx - fx)
	north, south := lerp(o.corners[0], o.corners[1], wx), lerp(o.corners[2], o.corners[3], wx)
	return lerp(north, south, ease(cy-fy))
}

func ease(t float64) float64           { return t * t * (3 - 2*t) }
func lerp(a, b, t float64) float64     { return a + (b-a)*t }
func smooth(lo, hi, v float64) float64 { return ease(clamp((v - lo) / (hi - lo))) }
func clamp(t float64) float64          { return min(max(t, 0), 1) }

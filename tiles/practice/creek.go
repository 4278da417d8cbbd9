package practice

import "math"

// creekBand is the width of the bands, in blocks, of which most hold one creek
// that runs from north to south.
const creekBand = 8

// creek is one of them.
type creek struct {
	col   int
	at    float64 // mean column, in blocks
	phase [4]float64
	runs  bool
}

func creekOf(col int) creek {
	d := roll(seedCreek, col, 0, 1<<blockZoom/creekBand)
	c := creek{col: col, runs: d.next() < 0.7}
	c.at = (float64(col) + d.between(0.4, 0.6)) * creekBand
	for i := range c.phase {
		c.phase[i] = d.between(0, 2*math.Pi)
	}
	return c
}

// meanders are wave lengths and swings, in blocks.
func meanders() [4][2]float64 {
	return [4][2]float64{{23, 1.4}, {7.1, 0.8}, {2.3, 0.25}, {0.83, 0.05}}
}

// swing is the most that a creek strays from its mean column, in blocks.
const swing = 1.4 + 0.8 + 0.25 + 0.05

// line is where the creek lies in a row, in blocks, and how much wider it is
// across the row than along its normal.
func (c *creek) line(y float64) (x, slant float64) {
	x = c.at
	slope := 0.0
	for i, m := range meanders() {
		k := 2 * math.Pi / m[0]
		sin, cos := math.Sincos(y*k + c.phase[i])
		x += m[1] * sin
		slope += m[1] * k * cos
	}
	return x, math.Hypot(1, slope)
}

// creeks are those that may show on a tile.
func creeks(v view) []creek {
	if v.zoom < streetsFrom {
		return nil
	}
	var found []creek
	for col := int(math.Floor(v.x/creekBand)) - 1; float64(col) <= (v.x+v.step*side)/creekBand+1; col++ {
		if c := creekOf(col); c.runs {
			found = append(found, c)
		}
	}
	return found
}

// near reports whether a place in the tile is within some metres of a creek.
func near(all []creek, v view, p point, reach float64) bool {
	for i := range all {
		// Sines cost more than this look at how far the creek can swing.
		if math.Abs(v.x+p.x/block-all[i].at) > swing+0.1+3*reach/block {
			continue
		}
		x, slant := all[i].line(v.y + p.y/block)
		if math.Abs(v.x+p.x/block-x)*block < reach*slant {
			return true
		}
	}
	return false
}

// creekWidth is half the width of the water in a row, in metres.
func creekWidth(y float64) float64 { return 3.4 + 0.8*math.Sin(y*9.7) + 0.5*math.Sin(y*31) }

// water paints a creek: a rough green strip, bare banks, water.
func (c *canvas) water(k creek) {
	for y := range side {
		by := c.blockY(y)
		x, slant := k.line(by)
		middle, half := (x-c.x)*block, creekWidth(by)
		first, last := c.rows(middle-20*slant, middle+20*slant)
		for px := first; px <= last; px++ {
			i := y*side + px
			d := ((float64(px)+0.5)*c.px - middle) / slant
			n := 3 * float64(c.grain[i])
			c.blend(i, rgb{77, 89, 59}.times(1+1.2*c.grain[i]), float32(0.8*strip(d, 13+4*n, c.px+5)))
			c.blend(i, rgb{139, 127, 104}.times(1+c.grain[i]), float32(0.85*strip(d-0.3, half+1.5+2*n, c.px+0.7)))
			deep := float32(smooth(half, 0, math.Abs(d)))
			c.blend(i, rgb{101, 105, 92}.toward(rgb{66, 78, 74}, deep).times(1+0.3*c.grain[i]), float32(strip(d, half+n, c.px+0.3)))
		}
	}
}

// creekside plants trees on both banks.
func (s *scene) creekside(k creek) {
	const every = 1.0 / 13 // blocks: one tree in 9 m
	first := int(math.Floor((s.y - 0.3) / every))
	last := int(math.Ceil((s.y + s.step*side + 0.3) / every))
	for n := first; n <= last; n++ {
		d := roll(seedCreekTrees, k.col, n, 1<<blockZoom/creekBand)
		y := (float64(n) + d.next()) * every
		x, slant := k.line(y)
		for _, bank := range [2]float64{-1, 1} {
			keep, off, r := d.next() < 0.55, d.between(7, 17), d.between(2.2, 5.2)
			if keep {
				s.tree(s.local(x+bank*off*slant/block, y), r, dice(mix(uint64(d))))
			}
		}
	}
}

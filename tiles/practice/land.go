package practice

// Seeds keep the chances of one thing apart from those of another.
const (
	seedTone = iota + 1
	seedHue
	seedTown
	seedWarpX
	seedWarpY
	seedParcel
	seedNode
	seedBlock
	seedCreek
	seedCreekTrees
	seedWood
	seedStreet
)

// land is the smooth layout of the invented place: where towns are, and how
// the grid of streets and fields is bent.
type land struct {
	warpX, warpY, town [2]octave
}

func newLand() *land {
	return &land{
		warpX: [2]octave{octaveOf(seedWarpX, -3), octaveOf(seedWarpX, -5)},
		warpY: [2]octave{octaveOf(seedWarpY, -3), octaveOf(seedWarpY, -5)},
		town:  [2]octave{octaveOf(seedTown, -5), octaveOf(seedTown, -3)},
	}
}

// bend is how far the grid is pushed at a place, in blocks: at most 1.3.
func (l *land) bend(x, y float64) (dx, dy float64) {
	dx = 0.4*l.warpX[0].at(x, y) + 0.9*l.warpX[1].at(x, y)
	dy = 0.4*l.warpY[0].at(x, y) + 0.9*l.warpY[1].at(x, y)
	return dx, dy
}

// built is 1 in towns and 0 in the country, with a narrow edge between.
func (l *land) built(x, y float64) float64 {
	return smooth(-0.14, -0.02, 0.75*l.town[0].at(x, y)+0.25*l.town[1].at(x, y))
}

// builtShare is the mean of built over the world (counted over 4 million places).
const builtShare = 0.58

// node is where two streets meet, in blocks.
func (l *land) node(col, row int) (x, y float64) {
	x, y = float64(col), float64(row)
	dx, dy := l.bend(x, y)
	d := roll(seedNode, col, row, 1<<blockZoom)
	return x + dx + d.between(-0.05, 0.05), y + dy + d.between(-0.05, 0.05)
}

// coarse is the grid, 8 pixels wide, on which the slow parts of the ground are
// worked out.
const coarse = side/8 + 1

// sample is what the slow parts are at one corner of the coarse grid.
type sample struct {
	far, near float64 // brightness of octaves from 100 m up, and of the rest
	hue       float64 // green to dry
	town      float64
	u, v      float64 // how far the grid of fields is bent, in blocks
}

func (a sample) to(b sample, t float64) sample {
	return sample{
		lerp(a.far, b.far, t), lerp(a.near, b.near, t), lerp(a.hue, b.hue, t),
		lerp(a.town, b.town, t), lerp(a.u, b.u, t), lerp(a.v, b.v, t),
	}
}

func (a sample) add(b sample) sample {
	return sample{a.far + b.far, a.near + b.near, a.hue + b.hue, a.town + b.town, a.u + b.u, a.v + b.v}
}

// steps gives the first pixel of 8 from a to b, and what changes from pixel to
// pixel.
func (a sample) steps(b sample) (first, change sample) {
	change = sample{b.far - a.far, b.near - a.near, b.hue - a.hue, b.town - a.town, b.u - a.u, b.v - a.v}
	change = sample{}.to(change, 1.0/8)
	return a.add(sample{}.to(change, 0.5)), change
}

// nearest is the coarsest octave that counts as grain.
const nearest = 1

// amplitude is the brightness of an octave.
func amplitude(fine int) float64 {
	switch {
	case fine < nearest:
		return 0.038
	case fine < 5:
		return 0.045
	case fine < 8:
		return 0.06
	}
	return 0.08
}

// slow works out the coarse grid of a tile. Octaves with cells under 32 pixels
// are not in it: they are added pixel by pixel.
func (l *land) slow(v view) []sample {
	grid := make([]sample, coarse*coarse)
	flat := smooth(100, 400, v.px) // towns are smaller than pixels: only their share counts
	each := func(paint func(s *sample, x, y float64)) {
		for i := range grid {
			paint(&grid[i], v.x+float64(i%coarse*8)*v.step, v.y+float64(i/coarse*8)*v.step)
		}
	}
	for fine := coarsest; fine <= v.zoom-15; fine++ {
		tone, a := octaveOf(seedTone, fine), amplitude(fine)
		each(func(s *sample, x, y float64) {
			if n := a * tone.at(x, y); fine < nearest {
				s.far += n
			} else {
				s.near += n
			}
		})
		if hue := octaveOf(seedHue, fine); fine <= 2 {
			each(func(s *sample, x, y float64) { s.hue += 0.2 * hue.at(x, y) })
		}
	}
	each(func(s *sample, x, y float64) {
		s.town = builtShare
		if flat < 1 {
			s.u, s.v = l.bend(x, y)
			s.town = lerp(l.built(x, y), builtShare, flat)
		}
	})
	return grid
}

// fast adds the octaves with cells of 2 to 16 pixels to the grain.
func fast(c *canvas) {
	for fine := max(c.zoom-14, coarsest); fine <= c.zoom-11; fine++ {
		o := octaveOf(seedTone, fine)
		o.add(c.view, amplitude(fine), c.grain)
	}
}

// rowOf is a row of pixels of the coarse grid.
func rowOf(grid []sample, y int, out *[coarse]sample) {
	at := (float64(y) + 0.5) / 8
	i := int(at)
	for x := range out {
		out[x] = grid[i*coarse+x].to(grid[(i+1)*coarse+x], at-float64(i))
	}
}

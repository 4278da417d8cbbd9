package practice

import "math"

// rgb is a colour, 0 to 255 a channel.
type rgb struct{ r, g, b float32 }

func (c rgb) times(k float32) rgb { return rgb{c.r * k, c.g * k, c.b * k} }

func (c rgb) tint(o rgb) rgb { return rgb{c.r * o.r, c.g * o.g, c.b * o.b} }

func (c rgb) toward(o rgb, t float32) rgb {
	return rgb{c.r + (o.r-c.r)*t, c.g + (o.g-c.g)*t, c.b + (o.b-c.b)*t}
}

// canvas is a tile being painted.
type canvas struct {
	view
	pix   []rgb
	grain []float32 // the ground's fine brightness, about -0.3 to 0.3; lends texture to all surfaces
	shade []float32 // how much of a pixel lies in shadow, 0 to 1
}

func newCanvas(v view) *canvas {
	return &canvas{v, make([]rgb, side*side), make([]float32, side*side), make([]float32, side*side)}
}

// blend lays a colour over a pixel; cover is 0 to 1.
func (c *canvas) blend(i int, col rgb, cover float32) { c.pix[i] = c.pix[i].toward(col, cover) }

// strip is how much of a pixel lies within half of a line's middle, 0 to 1,
// when the pixel's middle is d away. It is exact for lines along the pixel
// grid, so thin lines fade evenly as zooms get shallower.
func strip(d, half, px float64) float64 {
	lo, hi := d-px/2, d+px/2
	if lo < -half {
		lo = -half
	}
	if hi > half {
		hi = half
	}
	if hi <= lo {
		return 0
	}
	return (hi - lo) / px
}

// rows is the range of pixel rows (or columns) between two places in metres.
func (c *canvas) rows(from, to float64) (first, last int) {
	first = int(max(math.Floor(from/c.px-0.5), 0))
	last = int(min(math.Ceil(to/c.px-0.5), side-1))
	return first, last
}

// line is a straight piece of road, from a to b.
type line struct {
	a, b   point
	along  point // unit vector
	length float64
}

func lineOf(a, b point) line {
	d := b.sub(a)
	n := max(d.length(), 1e-9)
	return line{a, b, d.times(1 / n), n}
}

// each visits the pixels within reach of a line and tells how far along it
// they are and how far to its right, in metres.
func (c *canvas) each(l line, reach float64, paint func(i int, along, across float64)) {
	reach += c.px / 2
	first, last := c.rows(min(l.a.y, l.b.y)-reach, max(l.a.y, l.b.y)+reach)
	west, east := min(l.a.x, l.b.x)-reach, max(l.a.x, l.b.x)+reach
	for y := first; y <= last; y++ {
		dy := (float64(y)+0.5)*c.px - l.a.y
		lo, hi := west, east
		if n := math.Abs(l.along.y); n > 1e-6 { // the row crosses the band here
			mid := l.a.x + dy*l.along.x/l.along.y
			lo, hi = max(lo, mid-reach/n), min(hi, mid+reach/n)
		}
		x0, x1 := c.rows(lo, hi)
		for x := x0; x <= x1; x++ {
			dx := (float64(x)+0.5)*c.px - l.a.x
			paint(y*side+x, dx*l.along.x+dy*l.along.y, dy*l.along.x-dx*l.along.y)
		}
	}
}

// box is a rectangle turned so that its length runs along a unit vector.
type box struct {
	at                   point
	along                point
	halfLength, halfWide float64
}

// fill visits the pixels a box covers: how much, and where in the box.
func (c *canvas) fill(b box, paint func(i int, cover float32, u, v float64)) {
	if !c.sees(b.at, b.halfLength+b.halfWide+c.px) {
		return
	}
	ax, ay := math.Abs(b.along.x), math.Abs(b.along.y)
	dx := ax*b.halfLength + ay*b.halfWide + 0.7*c.px
	dy := ay*b.halfLength + ax*b.halfWide + 0.7*c.px
	y0, y1 := c.rows(b.at.y-dy, b.at.y+dy)
	x0, x1 := c.rows(b.at.x-dx, b.at.x+dx)
	for y := y0; y <= y1; y++ {
		dy := (float64(y)+0.5)*c.px - b.at.y
		for x := x0; x <= x1; x++ {
			dx := (float64(x)+0.5)*c.px - b.at.x
			v := dy*b.along.x - dx*b.along.y
			k := strip(v, b.halfWide, c.px)
			if k == 0 {
				continue
			}
			u := dx*b.along.x + dy*b.along.y
			if k *= strip(u, b.halfLength, c.px); k > 0 {
				paint(y*side+x, float32(k), u, v)
			}
		}
	}
}

// paint fills a box with one colour and a share of the ground's grain.
func (c *canvas) paint(b box, col rgb, cover, grain float32) {
	c.fill(b, func(i int, k float32, _, _ float64) {
		c.blend(i, col.times(1+grain*c.grain[i]), k*cover)
	})
}

// shadow marks a box as shaded; shadows do not add up.
func (c *canvas) shadow(b box, depth float32) {
	c.fill(b, func(i int, k float32, _, _ float64) { c.shade[i] = max(c.shade[i], k*depth) })
}

// disc visits the pixels that a circle covers: how much, and where from its
// middle.
func (c *canvas) disc(at point, radius float64, paint func(i int, cover float32, d point)) {
	if !c.sees(at, radius+c.px) {
		return
	}
	// Below a pixel a circle covers its share of the few pixels around it.
	full := float32(1)
	if least := 0.6 * c.px; radius < least {
		full, radius = float32(radius*radius/least/least), least
	}
	edge := radius + c.px/2
	y0, y1 := c.rows(at.y-edge, at.y+edge)
	x0, x1 := c.rows(at.x-edge, at.x+edge)
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			d := point{(float64(x)+0.5)*c.px - at.x, (float64(y)+0.5)*c.px - at.y}
			if d.x*d.x+d.y*d.y > edge*edge {
				continue
			}
			if k := clamp01((radius-d.length())/c.px + 0.5); k > 0 {
				paint(y*side+x, float32(k)*full, d)
			}
		}
	}
}

// darken lays the shadows gathered so far onto the picture.
func (c *canvas) darken() {
	for i, s := range c.shade {
		if s > 0 {
			p := &c.pix[i]
			p.r, p.g, p.b = p.r*(1-0.5*s), p.g*(1-0.47*s), p.b*(1-0.41*s)
		}
	}
}

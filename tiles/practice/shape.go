package practice

import "math"

// rgb is a color, 0 to 255 a channel.
type rgb struct{ r, g, b float64 }

func (c rgb) times(k float64) rgb { return rgb{c.r * k, c.g * k, c.b * k} }

func (c rgb) toward(o rgb, t float64) rgb {
	return rgb{lerp(c.r, o.r, t), lerp(c.g, o.g, t), lerp(c.b, o.b, t)}
}

// point is a place on the straight grid, in meters east and south.
type point struct{ x, y float64 }

// sun is the direction of the sun: south-southeast.
var sun = point{0.36, 0.93}

// toSun moves a point some meters towards the sun.
func (p point) toSun(m float64) point { return point{p.x + sun.x*m, p.y + sun.y*m} }

// strip is how much of a pixel lies within half of a line's middle, 0 to 1,
// when the pixel's middle is d away. Thin lines fade evenly as pixels grow.
func strip(d, half, px float64) float64 {
	return max(min(d+px/2, half)-max(d-px/2, -half), 0) / px
}

// rect is an upright rectangle: its middle and half its sides, in meters.
type rect struct{ x, y, halfX, halfY float64 }

// cover is how much of a pixel at p the rectangle covers, 0 to 1.
func (r rect) cover(p point, px float64) float64 {
	k := strip(p.x-r.x, r.halfX, px)
	if k > 0 {
		k *= strip(p.y-r.y, r.halfY, px)
	}
	return k
}

// box is a rectangle with a color: a patch on the ground, a car or a building.
type box struct {
	rect
	color  rgb
	height float64 // in meters; 0 = on the ground
	ridge  bool    // the roof slopes up to a ridge, with hips at its ends
	grain  float64 // how much of the ground's grain it shows
	sheer  float64 // how much of the ground shows through
}

// shade is how much of a pixel at p lies in the shadow of the box, which is
// three quarters as long as the box is high: somewhere on the way to the sun
// lies the box.
func (b *box) shade(p point, px float64) float64 {
	if b.height == 0 {
		return 0
	}
	x, y := b.x-p.x, b.y-p.y
	enters := max(0, (x-b.halfX)/sun.x, (y-b.halfY)/sun.y)
	leaves := min(0.75*b.height, (x+b.halfX)/sun.x, (y+b.halfY)/sun.y)
	return clamp((leaves-enters)/px + 0.5)
}

// over paints the box over a color.
func (b *box) over(col rgb, p point, px, grain float64) rgb {
	if k := b.cover(p, px); k > 0 {
		return col.toward(b.lit(p, grain), k*(1-b.sheer))
	}
	return col
}

// lit is the color of the box at p.
func (b *box) lit(p point, grain float64) rgb {
	light := 1 + b.grain*grain
	if !b.ridge {
		return b.color.times(light)
	}
	x, y := p.x-b.x, p.y-b.y
	slope := point{0, math.Copysign(1, y)}
	if b.halfX-math.Abs(x) < b.halfY-math.Abs(y) {
		slope = point{math.Copysign(1, x), 0}
	}
	return b.color.times(light + 0.17*(slope.x*sun.x+slope.y*sun.y))
}

// hypot is math.Hypot without its care for huge and infinite numbers, which costs a tenth
// of a tile.
func hypot(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

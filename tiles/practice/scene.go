package practice

import "math"

// Things that stand up, gathered first so that all shadows lie below all roofs
// and all roofs below all crowns.

// patch is flat: a lawn, a drive, a yard.
type patch struct {
	box
	colour rgb
	cover  float32
	grain  float32
}

// roof is a building seen from above.
type roof struct {
	box
	height float64
	colour rgb
	flat   bool
	hipped bool
}

// crown is a tree seen from above.
type crown struct {
	at     point
	radius float64
	chance dice
}

// car is parked.
type car struct {
	box
	colour rgb
}

// scene is what of the place a tile shows.
type scene struct {
	view
	patches []patch
	roofs   []roof
	crowns  []crown
	cars    []car
	creeks  []creek
}

// sunward points to the sun, which stands in the south-south-east.
var sunward = point{0.36, 0.93}

// shadowPerMetre is the length of the shadow of a metre of height.
const shadowPerMetre = 0.75

// flat adds a patch, unless it is far too thin to show.
func (s *scene) flat(at point, along point, halfLength, halfWide float64, col rgb, cover, grain float32) {
	if b := (box{at, along, halfLength, halfWide}); halfWide > s.px/16 && s.sees(at, halfLength+halfWide) {
		s.patches = append(s.patches, patch{b, col, cover, grain})
	}
}

func (s *scene) build(r roof) {
	if r.halfWide > s.px/5 && s.sees(r.at, 2*(r.halfLength+r.height)) {
		s.roofs = append(s.roofs, r)
	}
}

func (s *scene) tree(at point, radius float64, chance dice) {
	if s.sees(at, 3*radius) {
		s.crowns = append(s.crowns, crown{at, radius, chance})
	}
}

// carsBelow is the pixel size in metres from which on cars are left out.
const carsBelow = 2.5

func (s *scene) park(at, along point, chance float64) {
	kinds := [6]rgb{{188, 188, 186}, {90, 92, 96}, {60, 62, 68}, {128, 58, 50}, {70, 86, 112}, {150, 148, 142}}
	if b := (box{at, along, 2.2, 0.9}); s.px < carsBelow && s.sees(at, 4) {
		s.cars = append(s.cars, car{b, kinds[int(chance*6)]})
	}
}

// paint puts the whole scene on the canvas; roads are laid by between, after
// the flat things and before the shadows.
func (s *scene) paint(c *canvas, between func()) {
	for _, p := range s.patches {
		c.paint(p.box, p.colour, p.cover, p.grain)
	}
	between()
	steps := min(max(int(1.2/c.px), 1), 8) // enough that shadows have no stairs
	for _, r := range s.roofs {
		for n := range steps {
			b := r.box
			part := (float64(n) + 0.6) / (float64(steps) - 0.4)
			b.at = b.at.add(sunward.times(-shadowPerMetre * min(part, 1) * r.height))
			c.shadow(b, 1)
		}
	}
	for _, t := range s.crowns {
		at := t.at.add(sunward.times(-0.6 * t.radius))
		c.disc(at, 0.86*t.radius, func(i int, k float32, _ point) { c.shade[i] = max(c.shade[i], 0.85*k) })
	}
	for _, k := range s.cars {
		b := k.box
		b.at = b.at.add(sunward.times(-0.7))
		c.shadow(b, 0.9)
	}
	c.darken()
	for _, k := range s.cars {
		c.car(k)
	}
	for _, r := range s.roofs {
		c.roof(r)
	}
	for _, t := range s.crowns {
		c.crown(t)
	}
}

func (c *canvas) car(k car) {
	c.paint(k.box, k.colour, 1, 0.1)
	if c.px > 0.3 {
		return
	}
	glass := rgb{52, 58, 64}
	c.paint(box{k.at.add(k.along.times(0.75)), k.along, 0.3, 0.72}, glass, 0.9, 0)
	c.paint(box{k.at.sub(k.along.times(1.35)), k.along, 0.25, 0.7}, glass, 0.9, 0)
}

func (c *canvas) roof(r roof) {
	across := r.along.left().times(-1)
	lit := func(n point) float32 { return float32(1 + 0.17*(n.x*sunward.x+n.y*sunward.y)) }
	right, left := lit(across), lit(across.times(-1))
	head, tail := lit(r.along), lit(r.along.times(-1))
	ridge := r.halfLength - r.halfWide
	c.fill(r.box, func(i int, k float32, u, v float64) {
		light := right
		switch {
		case r.flat:
			light = 1
			if min(r.halfLength-math.Abs(u), r.halfWide-math.Abs(v)) < 0.5 {
				light = 1.14
			}
		case r.hipped && math.Abs(u)-ridge > math.Abs(v):
			if light = head; u < 0 {
				light = tail
			}
		case v < 0:
			light = left
		}
		if !r.flat && c.px < 0.2 { // courses of shingles
			t := math.Abs(v) / 0.45
			light *= 1 - 0.05*float32(ease(t-math.Floor(t)))
		}
		c.blend(i, r.colour.times(light*(1+0.35*c.grain[i])), k)
	})
}

// crown paints a tree: a dark round crown and, where pixels are small enough,
// lighter clumps on it.
func (c *canvas) crown(t crown) {
	d := t.chance
	col := rgb{76, 88, 58}.toward(rgb{96, 101, 66}, float32(d.next()))
	if d.next() < 0.12 {
		col = rgb{64, 79, 58}
	}
	light := func(from point) float32 {
		return float32(1 + 0.24*(from.x*sunward.x+from.y*sunward.y)/t.radius)
	}
	if t.radius < 5*c.px {
		c.disc(t.at, t.radius, func(i int, k float32, from point) {
			c.blend(i, col.times(light(from)*(1+1.3*c.grain[i])), k)
		})
		return
	}
	clumps := 9
	c.disc(t.at, 0.8*t.radius, func(i int, k float32, from point) {
		c.blend(i, col.times(0.8*light(from)*(1+1.6*c.grain[i])), k)
	})
	for n := range clumps {
		sin, cos := math.Sincos(2 * math.Pi * (float64(n)/float64(clumps)*3 + 0.15*d.next()))
		out := t.radius * d.between(0.2, 0.66)
		middle := point{cos * out, sin * out}
		own := light(middle) * float32(d.between(0.9, 1.12))
		radius := t.radius * d.between(0.3, 0.42)
		c.disc(t.at.add(middle), radius, func(i int, k float32, from point) {
			edge := float32(1 + 0.2*(from.x*sunward.x+from.y*sunward.y)/radius)
			c.blend(i, col.times(own*edge*(1+1.8*c.grain[i])), 0.9*k)
		})
	}
}

package practice

import "math"

// tree is a crown seen from above.
type tree struct {
	point
	radius float64 // in meters; 0 = there is no tree
	color  rgb
	turn   float64
}

// treeCells is the number of cells across a block; each holds one tree or none.
const treeCells = 13

// treeIn is the tree in a cell of the grid.
func (m *mesh) treeIn(col, row int) tree {
	const cell = 1.0 / treeCells
	d := roll(seedTree, col, row, 1<<(blockZoom+4))
	p := point{(float64(col) + d.next()) * cell * block, (float64(row) + d.next()) * cell * block}
	if d.next() > m.treeChance(p) {
		return tree{}
	}
	c := rgb{76, 88, 58}.toward(rgb{96, 101, 66}, d.next())
	if d.next() < 0.12 {
		c = rgb{64, 79, 58}
	}
	return tree{p, d.between(2, 4.6), c, d.between(0, 2*math.Pi)}
}

// treeChance is how likely a tree is at a place.
func (m *mesh) treeChance(p point) float64 {
	x, y := p.x-m.west, p.y-m.north
	clear := math.Inf(1) // from the nearest road
	for i, distance := range [4]float64{y, block - y, x, block - x} {
		if half := m.roads[i]; half > 0 {
			clear = min(clear, distance-half)
		}
	}
	creek, _ := creekAt(p)
	inside := min(y, block-y)
	switch {
	case clear < 1.2 || creek < 6:
		return 0
	case creek < 17:
		return 0.55
	case m.town:
		return m.townTreeChance(clear, inside)
	}
	c, _, border := fieldAt(p)
	switch {
	case c.wood:
		return 0.95
	case border < 4:
		return 0.3
	}
	return 0
}

func (m *mesh) townTreeChance(clear, inside float64) float64 {
	switch {
	case clear < 2.6:
		return 0.7 // along the street
	case m.use == park && math.Abs(inside-30) > 3:
		return 0.22
	case m.use == vacant:
		return 0.06
	case m.use == homes && inside > 35:
		return 0.25 // in yards
	}
	return 0
}

// shade is how much of a pixel at p lies in the shadow of the tree.
func (t *tree) shade(p point, px float64) float64 {
	q := p.toSun(0.6 * t.radius)
	return 0.85 * clamp((0.86*t.radius-math.Hypot(q.x-t.x, q.y-t.y))/px+0.5)
}

// over paints the crown over a color: lobed, and lighter towards the sun.
func (t *tree) over(col rgb, p point, px, grain float64) rgb {
	x, y := p.x-t.x, p.y-t.y
	d := math.Hypot(x, y)
	if d > t.radius+px {
		return col
	}
	lobe := math.Sin(7*math.Atan2(y, x) + t.turn + 2*d)
	light := 1 + 0.3*(x*sun.x+y*sun.y)/t.radius + 0.1*lobe*min(d/t.radius, 1) + 1.8*grain
	k := clamp((t.radius*(0.93+0.07*lobe)-d)/px + 0.5)
	return col.toward(t.color.times(0.95*light), k*min(1, 4*t.radius/px))
}

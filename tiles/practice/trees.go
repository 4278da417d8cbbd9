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
	return tree{p, d.between(2, 4.6), rgb{66, 80, 57}.toward(rgb{96, 101, 66}, d.next()), d.between(0, 2*math.Pi)}
}

// treeChance is how likely a tree is at a place: along streets and creeks, in
// yards, parks and woods.
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
	field, _, border := fieldAt(p)
	switch {
	case clear < 1.2 || creek < 6:
		return 0
	case creek < 17 || m.town && clear < 2.6:
		return 0.6
	case m.town && (m.use == park || m.use == homes && inside > 35):
		return 0.23
	case !m.town && field == wood:
		return 0.95
	case !m.town && border < 4:
		return 0.3
	}
	return 0
}

// shade is how much of a pixel at p lies in the shadow of the tree.
func (t *tree) shade(p point, px float64) float64 {
	if t.radius == 0 {
		return 0
	}
	q := p.toSun(0.6 * t.radius)
	return 0.85 * clamp((0.86*t.radius-hypot(q.x-t.x, q.y-t.y))/px+0.5)
}

// over paints the crown over a color: lobed, and lighter towards the sun.
func (t *tree) over(col rgb, p point, px, grain float64) rgb {
	x, y := p.x-t.x, p.y-t.y
	d := hypot(x, y)
	if t.radius == 0 || d > t.radius+px {
		return col
	}
	lobe := math.Sin(7*math.Atan2(y, x) + t.turn + 2*d)
	light := 1 + 0.3*(x*sun.x+y*sun.y)/t.radius + 0.1*lobe*min(d/t.radius, 1) + 1.8*grain
	k := clamp((t.radius*(0.93+0.07*lobe)-d)/px + 0.5)
	return col.toward(t.color.times(0.95*light), k*min(1, 4*t.radius/px))
}

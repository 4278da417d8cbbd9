package practice

import "math"

// From these zooms on things are drawn one by one.
const (
	streetsFrom = 12
	housesFrom  = 14
	woodsFrom   = 15
)

// Half the width of a street and of a main road, in metres.
const (
	halfStreet = 4.4
	halfMain   = 6.2
)

// street is the road from one node to the next.
type street struct {
	line
	half   float64
	paved  bool // with kerbs and footways, as in town
	main   bool
	chance dice
}

// layout is what of the street grid a tile may show.
type layout struct {
	first, cols, top, rows int
	nodes                  []point
	town                   []float64 // how built up each block is
}

func (l *land) layout(v view) *layout {
	const margin = 3 // the grid is bent by up to 1.3 blocks
	g := &layout{first: int(math.Floor(v.x)) - margin, top: int(math.Floor(v.y)) - margin}
	g.cols = int(math.Ceil(v.x+v.step*side)) + margin - g.first
	g.rows = int(math.Ceil(v.y+v.step*side)) + margin - g.top
	g.nodes, g.town = make([]point, g.cols*g.rows), make([]float64, g.cols*g.rows)
	for i := range g.nodes {
		col, row := g.first+i%g.cols, g.top+i/g.cols
		x, y := l.node(col, row)
		g.nodes[i] = v.local(x, y)
		g.town[i] = l.built(x+0.5, y+0.5)
	}
	return g
}

// isTown reports whether a block is built up; the block is named by its
// north-west node.
func (g *layout) isTown(i int) bool { return g.town[i] > 0.5 }

// streets gives the roads that may show: one to the east and one to the south
// of every node, where a block beside it is built up. Every fourth line is a
// main road and runs through the country too.
func (g *layout) streets(v view) []street {
	var found []street
	try := func(from, to, beside int, main bool, chance dice) {
		l := lineOf(g.nodes[from], g.nodes[to])
		town := g.isTown(from) || g.isTown(beside)
		if !main && !town || !v.sees(l.a.to(l.b, 0.5), l.length/2+12) {
			return
		}
		half := halfStreet
		if main {
			half = halfMain
		}
		found = append(found, street{l, half, town, main, chance})
	}
	for i := range g.nodes {
		col, row := g.first+i%g.cols, g.top+i/g.cols
		if i%g.cols == g.cols-1 || i < g.cols || i+g.cols >= len(g.nodes) || i%g.cols == 0 {
			continue
		}
		try(i, i+1, i-g.cols, row%4 == 0, roll(seedStreet, col, row, 1<<blockZoom))
		try(i, i+g.cols, i-1, col&3 == 0, roll(seedStreet+100, col, row, 1<<blockZoom))
	}
	return found
}

// Colours of roads.
var (
	footway  = rgb{158, 155, 147}
	kerb     = rgb{172, 169, 161}
	asphalt  = rgb{112, 112, 111}
	gravel   = rgb{150, 142, 125}
	yellow   = rgb{196, 172, 104}
	white    = rgb{205, 204, 198}
	concrete = rgb{163, 159, 149}
)

// road paints one strip of a street, with round ends so that strips join.
func (c *canvas) road(s street, half float64, col rgb, cover, grain float32) {
	c.each(s.line, half, func(i int, along, across float64) {
		if past := max(-along, along-s.length); past > 0 {
			across = math.Hypot(across, past)
		}
		if k := strip(across, half, c.px); k > 0 {
			c.blend(i, col.times(1+grain*c.grain[i]), float32(k)*cover)
		}
	})
}

// roads paints all streets, layer by layer so that crossings come out whole.
func (c *canvas) roads(all []street) {
	if c.px > 3 { // footways and road as one strip
		for _, s := range all {
			if s.paved {
				c.road(s, s.half+1.36, asphalt.toward(footway, 0.24), 1, 0.4)
			} else {
				c.road(s, s.half, asphalt, 1, 0.45)
			}
		}
		return
	}
	for _, s := range all {
		if s.paved {
			c.footways(s)
		}
	}
	for _, s := range all {
		if s.paved && c.px < 1 {
			c.road(s, s.half+0.3, kerb, 1, 0.3)
		}
	}
	for _, s := range all {
		surface := asphalt
		if !s.paved && !s.main {
			surface = gravel
		}
		c.road(s, s.half, surface, 1, 0.45)
	}
	for _, s := range all {
		if c.px < 1.3 {
			c.markings(s)
		}
	}
}

func (c *canvas) footways(s street) {
	c.each(s.line, s.half+5, func(i int, along, across float64) {
		if along < 0 || along > s.length {
			return
		}
		if k := strip(math.Abs(across)-s.half-3.2, 0.8, c.px); k > 0 {
			c.blend(i, footway.times(1+0.3*c.grain[i]), float32(0.85*k))
		}
	})
}

// markings paints the dashed middle line, the wheel tracks and the covers of
// manholes.
func (c *canvas) markings(s street) {
	const dash, clear = 9.0, 10.0 // metres from dash to dash; kept free at crossings
	c.each(s.line, s.half, func(i int, along, across float64) {
		if along < clear || along > s.length-clear {
			return
		}
		for _, lane := range [2]float64{-s.half / 2, s.half / 2} {
			worn := smooth(clear, clear+12, min(along, s.length-along))
			c.blend(i, asphalt.times(0.86), float32(0.4*worn*strip(across-lane, 0.7, c.px)))
		}
		if s.main {
			c.blend(i, white, float32(0.8*strip(math.Abs(across)-s.half+0.5, 0.07, c.px)))
		}
		if on := along - math.Floor(along/dash)*dash; s.main || on < 3 {
			c.blend(i, yellow, float32(0.85*strip(across, 0.08, c.px)))
		}
	})
	if c.px > 0.3 {
		return
	}
	d := s.chance
	for range 2 {
		at := s.a.add(s.along.times(d.between(clear, s.length-clear))).add(s.along.left().times(d.between(-1, 1) * s.half * 0.7))
		c.disc(at, 0.36, func(i int, k float32, _ point) { c.blend(i, kerb.times(0.8), k) })
		c.disc(at, 0.29, func(i int, k float32, _ point) { c.blend(i, rgb{74, 72, 70}, k) })
	}
}

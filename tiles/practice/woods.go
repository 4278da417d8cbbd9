package practice

import "math"

// treesAcross is the number of trees across a block of wood.
const treesAcross = 16

// woods plants the fields that are wooded, on the bent grid of the fields.
func (s *scene) woods(l *land) {
	size := s.step * side
	bendX, bendY := l.bend(s.x+size/2, s.y+size/2)
	reach := size/2 + min(0.2+0.4*size, 1.4) // the bend changes slowly across a tile
	first := func(middle float64) int { return int(math.Floor((middle - reach) * treesAcross)) }
	u, v := s.x+size/2-bendX, s.y+size/2-bendY
	n := int(2*reach*treesAcross) + 1
	var f fields
	for row := first(v); row <= first(v)+n; row++ {
		for col := first(u); col <= first(u)+n; col++ {
			u, v := (float64(col)+0.5)/treesAcross, (float64(row)+0.5)/treesAcross
			inU, inV := f.find(u, v)
			if min(inU, 1-inU, inV, 1-inV) < 0.022 { // a road runs there
				continue
			}
			part, border := f.part(inU, inV)
			d := roll(seedWood, col, row, treesAcross<<blockZoom)
			if hedged := border < 0.01 && d.next() < 0.3; !hedged && !f.field[part].wood {
				continue
			}
			s.wild(l, u, v, d)
		}
	}
}

// wild plants one tree at a place on the grid of the fields, unless a town or
// a creek is there.
func (s *scene) wild(l *land, u, v float64, d dice) {
	dx, dy := l.bend(u, v)
	x := u + dx + d.between(-0.4, 0.4)/treesAcross
	y := v + dy + d.between(-0.4, 0.4)/treesAcross
	at, radius := s.local(x, y), d.between(2.6, 5)
	if !s.sees(at, 3*radius) || l.built(x, y) > 0.3 || near(s.creeks, s.view, at, 8) {
		return
	}
	s.tree(at, radius, d)
}

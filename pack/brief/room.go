package brief

import "github.com/paulmach/orb"

// room keeps texts on a map from covering one another.
type room struct {
	paper *paper
	on    box // labels stay within
	taken []box
	left  int // labels that found no room
}

func (r *room) free(b box) bool {
	for _, o := range r.taken {
		if b.X < o.X+o.W && o.X < b.X+b.W && b.Y < o.Y+o.H && o.Y < b.Y+b.H {
			return false
		}
	}
	return true
}

func (r *room) holds(b box) bool {
	return b.X >= r.on.X && b.Y >= r.on.Y && b.X+b.W <= r.on.X+r.on.W && b.Y+b.H <= r.on.Y+r.on.H
}

func (r *room) fill(b box) { r.taken = append(r.taken, b) }

// take fills a square round a place if it is free; half of its side in
// millimetres.
func (r *room) take(p orb.Point, half float64) bool {
	b := box{p[0] - half, p[1] - half, 2 * half, 2 * half}
	if !r.free(b) {
		return false
	}
	r.fill(b)
	return true
}

// label writes a text beside a place where there is room, else counts it.
func (r *room) label(c canvas, p orb.Point, text string, w words) {
	for _, side := range []struct {
		x, y  float64
		align byte
	}{{3.2, 0.9, 'l'}, {-3.2, 0.9, 'r'}, {0, -3.4, 'c'}, {0, 5, 'c'}, {3.2, -2.4, 'l'}, {3.2, 4.2, 'l'}, {-3.2, -2.4, 'r'}, {-3.2, 4.2, 'r'}} {
		w.align = side.align
		at := orb.Point{p[0] + side.x, p[1] + side.y}
		if b := r.paper.around(at, text, w); r.holds(b) && r.free(b) {
			r.fill(b)
			c.Text(at, text, w)
			return
		}
	}
	r.left++
}

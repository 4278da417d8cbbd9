package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// polygonFill is a polygon with its holes, even-odd, in the world square.
type polygonFill struct {
	rings        [][]orb.Point
	north, south float64 // heights of the world square, north the lesser
}

func newFill(polygon orb.Polygon) polygonFill {
	f := polygonFill{north: math.Inf(1), south: math.Inf(-1)}
	for _, ring := range polygon {
		points := make([]orb.Point, 0, len(ring))
		for i, q := range ring {
			if !finite(q) {
				return polygonFill{north: math.Inf(1), south: math.Inf(-1)}
			}
			p, n := q, 1
			if i > 0 {
				p = ring[i-1]
				n = bend(p, q)
			}
			for j := 1; j <= n; j++ {
				x, y := project(part(p, q, j, n))
				points = append(points, orb.Point{x, y})
				f.north, f.south = min(f.north, y), max(f.south, y)
			}
		}
		f.rings = append(f.rings, points)
	}
	return f
}

// finite guards against areas made by hand; files are checked when read.
func finite(p orb.Point) bool {
	return math.Abs(p[0]) <= 360 && math.Abs(p[1]) <= 90
}

// cover adds the polygon's tiles row by row: those an edge passes through, and
// those between the crossings of the row's middle line. A tile that no edge
// passes through is wholly in or wholly out, so the middle line decides it.
func (f polygonFill) cover(k *coverBuilder) {
	if f.north > f.south {
		return
	}
	before := k.added
	k.crossings.reset(k.rowsBetween(f.north, f.south))
	for _, ring := range f.rings {
		w := ringWalker{k: k}
		w.walk(ring)
	}
	k.inside()
	if k.added == before { // finer than the tolerance, on a border
		for _, ring := range f.rings {
			for i := 1; i < len(ring); i++ {
				p, q := ring[i-1], ring[i]
				newEdge(p[0]*k.n, p[1]*k.n, q[0]*k.n, q[1]*k.n).trace(k)
			}
		}
	}
}

// inside adds what lies between the crossings of each row.
func (k *coverBuilder) inside() {
	var x []float64
	for i := range k.crossings.heads {
		row := k.crossings.first + i
		x = k.crossings.of(row, x[:0])
		slices.Sort(x)
		for j := 1; j < len(x); j += 2 {
			k.add(row, x[j-1], x[j], false)
		}
	}
}

// ringWalker follows a ring through the rows. As long as the ring stays in a row,
// less the tolerance at both borders, what it sweeps is one interval.
type ringWalker struct {
	k           *coverBuilder
	row         int
	top, bottom float64 // of the row, less the tolerance
	lo, hi      float64 // the interval swept
	open        bool    // the place reached lies between top and bottom
}

func (w *ringWalker) walk(ring []orb.Point) {
	var x0, y0 float64
	for i, p := range ring {
		x1, y1 := p[0]*w.k.n, p[1]*w.k.n
		switch {
		case i == 0:
		case w.open && y1 >= w.top && y1 <= w.bottom:
			w.lo, w.hi = min(w.lo, x1), max(w.hi, x1)
			w.cross(w.row, x0, y0, x1, y1)
		default:
			w.follow(x0, y0, x1, y1)
		}
		x0, y0 = x1, y1
	}
	w.close()
}

// follow takes an edge that leaves its row, or begins on a border.
func (w *ringWalker) follow(x0, y0, x1, y1 float64) {
	e := newEdge(x0, y0, x1, y1)
	row, last, step := w.k.row(y0), w.k.row(y1), 1
	if last < row {
		step = -1
	}
	for ; ; row += step {
		w.enter(row, e)
		w.cross(row, x0, y0, x1, y1)
		if row == last {
			break
		}
	}
	if w.open && !(y1 >= w.top && y1 <= w.bottom) {
		w.close()
	}
}

// enter sweeps the part of the edge in a row.
func (w *ringWalker) enter(row int, e edge) {
	top, bottom := float64(row)+w.k.eps, float64(row+1)-w.k.eps
	lo, hi, ok := e.between(top, bottom)
	switch {
	case !ok:
	case w.open && row == w.row:
		w.lo, w.hi = min(w.lo, lo), max(w.hi, hi)
	default:
		w.close()
		w.row, w.top, w.bottom, w.lo, w.hi, w.open = row, top, bottom, lo, hi, true
	}
}

func (w *ringWalker) close() {
	if w.open {
		w.k.add(w.row, w.lo, w.hi, false)
	}
	w.open = false
}

// cross notes where the edge crosses the middle line of a row. A place on the
// line counts as above it, so that a ring crosses an even number of times.
func (w *ringWalker) cross(row int, x0, y0, x1, y1 float64) {
	middle := float64(row) + 0.5
	if (y0 <= middle) != (y1 <= middle) {
		w.k.crossings.push(row, newEdge(x0, y0, x1, y1).at(middle))
	}
}

package area

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// maxPieces is the most pieces one edge is cut into; edges up to some 150 km
// north to south never need so many.
const maxPieces = 4096

// edge is a straight line in the world square (or in tiles), upper end first.
type edge struct{ x0, y0, x1, y1 float64 }

func newEdge(x0, y0, x1, y1 float64) edge {
	if y0 > y1 {
		return edge{x1, y1, x0, y0}
	}
	return edge{x0, y0, x1, y1}
}

func (e edge) scale(n float64) edge { return edge{e.x0 * n, e.y0 * n, e.x1 * n, e.y1 * n} }

// at is the column at height y, kept between the ends.
func (e edge) at(y float64) float64 {
	x := e.x0
	if e.y1 > e.y0 {
		x += (e.x1 - e.x0) * ((y - e.y0) / (e.y1 - e.y0))
	}
	return min(max(x, min(e.x0, e.x1)), max(e.x0, e.x1))
}

// between is the interval of columns the edge has from height top to bottom.
func (e edge) between(top, bottom float64) (lo, hi float64, ok bool) {
	top, bottom = max(top, e.y0), min(bottom, e.y1)
	if !(top <= bottom) {
		return 0, 0, false
	}
	if e.y0 == e.y1 {
		return min(e.x0, e.x1), max(e.x0, e.x1), true
	}
	a, b := e.at(top), e.at(bottom)
	return min(a, b), max(a, b), true
}

// trace adds the tiles that hold an edge without width.
func (e edge) trace(k *sink) {
	first, last := k.run(e.y0, e.y1, true)
	for row := first; row <= last; row++ {
		lo, hi, ok := e.between(float64(row)+k.eps, float64(row+1)-k.eps)
		if !ok { // it lies along the border of the row
			lo, hi = min(e.x0, e.x1), max(e.x0, e.x1)
		}
		k.add(row, lo, hi, true)
	}
}

// project turns degrees into the world square; latitudes beyond Web Mercator
// count for its end.
func project(p orb.Point) (x, y float64) {
	return tiles.Project(p[0], min(max(p[1], -tiles.MaxLatitude), tiles.MaxLatitude))
}

// bend is the number of pieces an edge needs so that the straight pieces in
// the world square are within a millimetre of the edge, which is straight in
// longitude and latitude: y bends by y” = sec φ · tan φ / 2π.
func bend(p, q orb.Point) int {
	if p[0] == q[0] {
		return 1
	}
	phi := radians(min(max(math.Abs(p[1]), math.Abs(q[1])), tiles.MaxLatitude))
	d := radians(q[1] - p[1])
	off := d * d / 8 * math.Tan(phi) / math.Cos(phi) / (2 * math.Pi)
	return pieces(math.Sqrt(off / (millimetre / 4)))
}

func pieces(n float64) int { return int(min(max(math.Ceil(n), 1), maxPieces)) }

// part is the place i of n along the edge.
func part(p, q orb.Point, i, n int) orb.Point {
	if i == n {
		return q
	}
	t := float64(i) / float64(n)
	return orb.Point{p[0] + (q[0]-p[0])*t, p[1] + (q[1]-p[1])*t}
}

// fill is a polygon with its holes, even-odd, in the world square. Its edges
// are ordered by their upper end.
type fill struct{ edges []edge }

func newFill(polygon orb.Polygon) fill {
	var f fill
	for _, ring := range polygon {
		for i := 1; i < len(ring); i++ {
			p, q := ring[i-1], ring[i]
			if !finite(p) || !finite(q) {
				return fill{}
			}
			x0, y0 := project(p)
			n := bend(p, q)
			for j := 1; j <= n; j++ {
				x1, y1 := project(part(p, q, j, n))
				f.edges = append(f.edges, newEdge(x0, y0, x1, y1))
				x0, y0 = x1, y1
			}
		}
	}
	slices.SortFunc(f.edges, func(a, b edge) int { return cmp.Compare(a.y0, b.y0) })
	return f
}

// finite guards against areas made by hand; files are checked when read.
func finite(p orb.Point) bool {
	return math.Abs(p[0]) <= 360 && math.Abs(p[1]) <= 90
}

// cover adds the polygon's tiles row by row: those an edge passes through, and
// those between the crossings of the row's middle line. A tile that no edge
// passes through is wholly in or wholly out, so the middle line decides it.
func (f fill) cover(k *sink) {
	before, next := k.added, 0
	var active []edge
	var crossings []float64
	row := 0
	for next < len(f.edges) || len(active) > 0 {
		if len(active) == 0 {
			row = max(row, int(math.Floor(f.edges[next].y0*k.n)))
		}
		for next < len(f.edges) && f.edges[next].y0*k.n < float64(row+1) {
			active = append(active, f.edges[next].scale(k.n))
			next++
		}
		active, crossings = k.row(row, active, crossings[:0])
		row++
	}
	if k.added == before { // finer than the tolerance, on a border
		for _, e := range f.edges {
			e.scale(k.n).trace(k)
		}
	}
}

// row adds one row of a polygon and returns the edges that go on below it.
func (k *sink) row(row int, active []edge, crossings []float64) ([]edge, []float64) {
	top, bottom := float64(row), float64(row+1)
	middle := top + 0.5
	below := active[:0]
	for _, e := range active {
		if lo, hi, ok := e.between(top+k.eps, bottom-k.eps); ok {
			k.add(row, lo, hi, false)
		}
		if e.y0 <= middle && middle < e.y1 {
			crossings = append(crossings, e.at(middle))
		}
		if e.y1 > bottom {
			below = append(below, e)
		}
	}
	slices.Sort(crossings)
	for i := 1; i < len(crossings); i += 2 {
		k.add(row, crossings[i-1], crossings[i], false)
	}
	return below, crossings
}

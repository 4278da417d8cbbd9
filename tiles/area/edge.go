package area

import (
	"math"

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
func (e edge) trace(k *coverBuilder) {
	first, last := k.between(e.y0, e.y1, true)
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
// the world square are within a millimeter of the edge, which is straight in
// longitude and latitude: y bends by y” = sec φ · tan φ / 2π, and
// sec φ · tan φ is less than φ / cos² φ.
func bend(p, q orb.Point) int {
	if p[0] == q[0] {
		return 1
	}
	phi := radians(min(max(math.Abs(p[1]), math.Abs(q[1])), tiles.MaxLatitude))
	d, c := radians(q[1]-p[1]), lessThanCos(phi)
	off := d * d / 8 * phi / (c * c) / (2 * math.Pi)
	if off <= millimeter/4 {
		return 1
	}
	return pieces(math.Sqrt(off / (millimeter / 4)))
}

// lessThanCos is a little less than the cosine: its series, broken off. At the
// end of Web Mercator it is 0.6 % less, at latitude 60 a ten-thousandth.
func lessThanCos(phi float64) float64 {
	s := phi * phi
	return 1 - s/2*(1-s/12*(1-s/30))
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

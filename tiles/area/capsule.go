package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// steady is how much the scale of the map may change along one capsule.
const steady = 1e-4

// capsule is the ground within a distance of a straight piece of a line: in
// the world square all that an ellipse sweeps. Heights are multiplied by
// squash so that the ellipse is a circle of radius r.
type capsule struct {
	x0, y0, x1, y1 float64 // ends, y squashed
	r, squash      float64
	nx, ny         float64 // normal of length 1 towards the east; none along a parallel
}

// appendCapsules adds the capsules round a line of degrees, r in meters.
func appendCapsules[L ~[]orb.Point](list []capsule, line L, r float64) []capsule {
	if !(r >= 0) || slices.ContainsFunc(line, func(p orb.Point) bool { return !finite(p) }) {
		return list
	}
	list = slices.Grow(list, len(line))
	var from ellipse
	for i, p := range line {
		if i == 0 {
			from = ellipseAt(p, r)
			continue
		}
		list, from = appendEdge(list, line[i-1], p, r, from)
	}
	return list
}

// appendEdge adds the capsules round one edge, given the ellipse at its
// beginning, and gives the one at its end.
func appendEdge(list []capsule, p, q orb.Point, r float64, from ellipse) ([]capsule, ellipse) {
	n := bend(p, q)
	if r > 0 {
		n = max(n, sway(p, q))
	}
	for i := 1; i <= n; i++ {
		to := ellipseAt(part(p, q, i, n), r)
		c := newCapsule(from, to)
		list = append(list, c)
		west, east := c.columns(c.top(), c.bottom())
		if west < 0 {
			list = append(list, c.shift(1))
		}
		if east > 1 {
			list = append(list, c.shift(-1))
		}
		from = to
	}
	return list, from
}

// sway is the number of pieces within which the scale, sec φ, is steady.
func sway(p, q orb.Point) int {
	phi := radians(min(max(math.Abs(p[1]), math.Abs(q[1])), tiles.MaxLatitude))
	return pieces(math.Tan(phi) * math.Abs(radians(q[1]-p[1])) / steady)
}

// newCapsule sweeps the larger of two ellipses from one to the other.
func newCapsule(p, q ellipse) capsule {
	a, b := max(p.a, q.a), max(p.b, q.b)
	squash := 1.0
	if b > 0 {
		squash = a / b
	}
	c := capsule{x0: p.x, y0: p.y * squash, x1: q.x, y1: q.y * squash, r: a, squash: squash}
	if dx, dy := c.x1-c.x0, c.y1-c.y0; dy != 0 {
		long := math.Copysign(math.Hypot(dx, dy), dy)
		c.nx, c.ny = dy/long, -dx/long
	}
	return c
}

func (c capsule) shift(x float64) capsule {
	c.x0, c.x1 = c.x0+x, c.x1+x
	return c
}

func (c capsule) scale(n float64) capsule {
	c.x0, c.y0, c.x1, c.y1, c.r = c.x0*n, c.y0*n, c.x1*n, c.y1*n, c.r*n
	return c
}

func (c capsule) top() float64    { return (min(c.y0, c.y1) - c.r) / c.squash }
func (c capsule) bottom() float64 { return (max(c.y0, c.y1) + c.r) / c.squash }

// columns is the interval of columns the capsule has from height top to
// bottom, heights not squashed; east < west when it has none there. The shape
// is convex, so its eastern border is furthest at the height of the eastern
// end or as near to that as the band goes; likewise in the west.
func (c capsule) columns(top, bottom float64) (west, east float64) {
	top, bottom = top*c.squash, bottom*c.squash
	y0, y1 := c.y0, c.y1
	if c.x1 > c.x0 {
		y0, y1 = y1, y0
	}
	east = c.border(min(max(y0, top), bottom), 1)
	west = -c.border(min(max(y1, top), bottom), -1)
	return west, east
}

// border is the furthest the capsule reaches at height y (squashed): to the
// east for side 1; for side -1 to the west, with the sign turned round.
func (c capsule) border(y, side float64) float64 {
	x0, x1 := c.x0*side, c.x1*side
	far := math.Inf(-1)
	if d := y - c.y0; math.Abs(d) <= c.r {
		far = x0 + math.Sqrt(c.r*c.r-d*d)
	}
	if d := y - c.y1; math.Abs(d) <= c.r {
		far = max(far, x1+math.Sqrt(c.r*c.r-d*d))
	}
	if c.nx == 0 {
		return far
	}
	// The straight side: the line moved by r along its outward normal.
	if t := (y - c.r*c.ny*side - c.y0) / (c.y1 - c.y0); t >= 0 && t <= 1 {
		far = max(far, x0+t*(x1-x0)+c.r*c.nx)
	}
	return far
}

// cover adds the capsule's tiles row by row.
func (c capsule) cover(k *coverBuilder) {
	c = c.scale(k.n)
	if c.r == 0 {
		newEdge(c.x0, c.y0, c.x1, c.y1).trace(k)
		return
	}
	before := k.added
	top, bottom := c.top(), c.bottom()
	first, last := k.between(top, bottom, false)
	for row := first; row <= last; row++ {
		west, east := c.columns(max(top, float64(row)+k.eps), min(bottom, float64(row+1)-k.eps))
		if west <= east {
			k.add(row, west, east, false)
		}
	}
	if k.added == before && !c.outside(k) { // finer than the tolerance, on a border
		newEdge(c.x0, c.y0/c.squash, c.x1, c.y1/c.squash).trace(k)
	}
}

// outside reports whether the capsule lies beyond the edge of the world, as
// the copies made for the antimeridian mostly do.
func (c capsule) outside(k *coverBuilder) bool {
	west, east := c.columns(c.top(), c.bottom())
	return east <= k.eps || west >= k.n-k.eps || c.bottom() <= 0 || c.top() >= k.n
}

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

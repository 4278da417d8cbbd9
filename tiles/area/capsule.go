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

package union

import (
	"cmp"
	"math"
	"math/big"

	"github.com/paulmach/orb"
)

// fine is a degree in units of the grid: a unit is a tenth of a millimeter on
// the ground at most, and what has nine decimals or fewer stays as it is.
const fine = 1e9

// point lies on the grid. Only whole numbers are compared, so that no sign of an
// area is ever in doubt.
type point struct{ x, y int64 }

func onGrid(p orb.Point) point {
	return point{int64(math.Round(p[0] * fine)), int64(math.Round(p[1] * fine))}
}

func (p point) degrees() orb.Point { return orb.Point{float64(p.x) / fine, float64(p.y) / fine} }

func (p point) compare(q point) int {
	return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.y, q.y))
}

// side is +1 when p lies left of the way from a to b, -1 when right, 0 on its
// line.
func side(a, b, p point) int {
	dx, dy, ex, ey := b.x-a.x, b.y-a.y, p.x-a.x, p.y-a.y
	const small = 1 << 31 // the products then are whole numbers of 64 bits
	if dx < small && dx > -small && dy < small && dy > -small && ex < small && ex > -small && ey < small && ey > -small {
		return cmp.Compare(dx*ey, dy*ex)
	}
	return compareProducts(dx, ey, dy, ex)
}

// compareProducts compares a·b with c·d, exactly.
func compareProducts(a, b, c, d int64) int {
	first := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
	return first.Cmp(new(big.Int).Mul(big.NewInt(c), big.NewInt(d)))
}

// segment is a way between two points, the lesser one first.
type segment struct {
	a, b  point
	times int32 // how often it is gone from a to b, less how often back
	moved bool  // not yet compared with all others
}

// between reports whether a point on the line of a segment lies within it and
// is none of its ends.
func (s segment) between(p point) bool { return s.a.compare(p) < 0 && p.compare(s.b) < 0 }

func (s segment) low() int64  { return min(s.a.y, s.b.y) }
func (s segment) high() int64 { return max(s.a.y, s.b.y) }

// crossing is where two segments that cross do, on the nearest point of the
// grid.
func crossing(s, t segment) point {
	dx, dy := float64(s.b.x-s.a.x), float64(s.b.y-s.a.y)
	ex, ey := float64(t.b.x-t.a.x), float64(t.b.y-t.a.y)
	fx, fy := float64(t.a.x-s.a.x), float64(t.a.y-s.a.y)
	part := min(max((fx*ey-fy*ex)/(dx*ey-dy*ex), 0), 1)
	p := point{s.a.x + int64(math.Round(part*dx)), s.a.y + int64(math.Round(part*dy))}
	// Where the two nearly run together the part is not known well.
	p.x = min(max(p.x, s.a.x, t.a.x), s.b.x, t.b.x)
	p.y = min(max(p.y, s.low(), t.low()), s.high(), t.high())
	return p
}

// Package union joins polygons, on a grid of a tenth of a millimeter so that it is
// exact: it cuts their edges where they meet, counts how many polygons hold each
// face between them, and goes along the border of what any holds.
// github.com/peterstace/simplefeatures makes hulls and finds edges by place; its union of many has lost
// whole shapes (v0.50.0: a box and the hulls of its four edges).
package union

import (
	"cmp"
	"errors"
	"math"
	"math/big"
	"runtime"
	"slices"
	"sync"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	"github.com/paulmach/orb/planar"
	"github.com/peterstace/simplefeatures/geom"
	"github.com/peterstace/simplefeatures/rtree"
)

// ErrLost guards against a union that is smaller than what went into it.
var ErrLost = errors.New("the union lost a part")

// together is how many polygons are joined at a time: neighbors overlap most, so
// that little is left of them for the next join.
const together = 32

// Of joins the polygons of each group, and then the groups. Polygons have no ring
// that crosses itself; rings may run either way. Degrees come out on the grid.
// Outer rings run counter-clockwise, holes clockwise. Without polygons there is
// nothing.
func Of(groups ...orb.MultiPolygon) (orb.MultiPolygon, error) {
	var all orb.MultiPolygon
	for _, group := range groups {
		whole, err := joinNeighbors(group)
		if err != nil {
			return nil, err
		}
		all = append(all, whole...)
	}
	if len(groups) < 2 {
		return all, nil
	}
	return join(all)
}

// joinNeighbors joins neighbors first.
func joinNeighbors(group orb.MultiPolygon) (orb.MultiPolygon, error) {
	for len(group) > together {
		chunks := slices.Collect(slices.Chunk(group, together))
		parts, errs := make([]orb.MultiPolygon, len(chunks)), make([]error, len(chunks))
		var running sync.WaitGroup
		for worker := range runtime.GOMAXPROCS(0) {
			running.Go(func() {
				for i := worker; i < len(chunks); i += runtime.GOMAXPROCS(0) {
					parts[i], errs[i] = join(chunks[i])
				}
			})
		}
		running.Wait()
		if err := errors.Join(errs...); err != nil {
			return nil, err
		}
		next := slices.Concat(parts...)
		if len(next) > len(group)/2 { // they hardly touch
			group = next
			break
		}
		group = next
	}
	return join(group)
}

func join(polygons orb.MultiPolygon) (orb.MultiPolygon, error) {
	var segments []segment
	least := 0.0
	for _, polygon := range polygons {
		// A border may move by a unit where it is cut.
		least = max(least, math.Abs(planar.Area(polygon))*(1-1e-6)-planar.Length(polygon)/fine)
		for i, ring := range polygon {
			segments = appendRing(segments, ring, i == 0)
		}
	}
	nodes, err := node(segments)
	if err != nil {
		return nil, err
	}
	p := newPlane(nodes)
	p.countPolygons()
	whole, err := p.border()
	if err == nil && planar.Area(whole) < least {
		err = ErrLost
	}
	return whole, err
}

// appendRing adds the segments of a ring, counter-clockwise round ground and
// clockwise round a hole.
func appendRing(segments []segment, ring orb.Ring, ground bool) []segment {
	points := make([]point, 0, len(ring))
	for _, p := range ring {
		points = append(points, onGrid(p))
	}
	times := int32(1)
	if (doubleArea(points) > 0) != ground {
		times = -1
	}
	for i, p := range points {
		if q := points[(i+1)%len(points)]; p != q {
			segments = append(segments, newSegment(p, q, times))
		}
	}
	return segments
}

// Hull is the smallest convex polygon round the points; nothing when they lie on
// one line.
func Hull(points []orb.Point) orb.MultiPolygon {
	hull, err := wkb.Unmarshal(toLibrary(points).AsGeometry().ConvexHull().AsBinary())
	if polygon, ok := hull.(orb.Polygon); err == nil && ok && len(polygon) > 0 {
		return orb.MultiPolygon{polygon}
	}
	return nil
}

func toLibrary(points []orb.Point) geom.LineString {
	xy := make([]float64, 0, 2*len(points))
	for _, p := range points {
		xy = append(xy, p[0], p[1])
	}
	return geom.NewLineString(geom.NewSequence(xy, geom.DimXY))
}

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

// along is how far along the segment a point is, in parts of its length squared.
func (s segment) along(p point) float64 {
	return float64(p.x-s.a.x)*float64(s.b.x-s.a.x) + float64(p.y-s.a.y)*float64(s.b.y-s.a.y)
}

// order compares points by how far along the segment they are.
func (s segment) order(p, q point) int {
	return cmp.Or(cmp.Compare(s.along(p), s.along(q)), p.compare(q))
}

// passes reports whether the segment goes by a point within half a unit, between its
// own ends.
func (s segment) passes(p point) bool {
	dx, dy := float64(s.b.x-s.a.x), float64(s.b.y-s.a.y)
	long := dx*dx + dy*dy
	if along := s.along(p); along <= 0 || along >= long || p == s.a || p == s.b {
		return false
	}
	off := dx*float64(p.y-s.a.y) - dy*float64(p.x-s.a.x)
	return 4*off*off <= long
}

// box is round the segment; whole numbers of this size stay exact.
func (s segment) box() rtree.Box {
	return rtree.Box{MinX: float64(s.a.x), MinY: float64(s.low()), MaxX: float64(s.b.x), MaxY: float64(s.high())}
}

// treeOf finds segments by place.
func treeOf(all []segment) *rtree.RTree {
	items := make([]rtree.BulkItem, len(all))
	for i, s := range all {
		items[i] = rtree.BulkItem{Box: s.box(), RecordID: i}
	}
	return rtree.BulkLoad(items)
}

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

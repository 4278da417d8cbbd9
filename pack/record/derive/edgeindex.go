package derive

import (
	"iter"
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles/geodesic"
)

// boxIndex finds numbered boxes of degrees by place. The zero value is empty.
type boxIndex struct{ tree *rtree.RTree }

func newBoxIndex(n int, box func(i int) rtree.Box) boxIndex {
	items := make([]rtree.BulkItem, n)
	for i := range items {
		items[i] = rtree.BulkItem{Box: box(i), RecordID: i}
	}
	return boxIndex{rtree.BulkLoad(items)}
}

// in yields the numbers of the boxes that meet a box, in no order.
func (x boxIndex) in(box rtree.Box) iter.Seq[int] {
	return func(yield func(int) bool) {
		if x.tree == nil {
			return
		}
		more := true
		_ = x.tree.RangeSearch(box, func(i int) error { // rtree.Stop ends the search of one node alone
			if more = more && yield(i); !more {
				return rtree.Stop
			}
			return nil
		})
	}
}

func boxOf(a, b orb.Point) rtree.Box {
	return rtree.Box{MinX: min(a[0], b[0]), MinY: min(a[1], b[1]), MaxX: max(a[0], b[0]), MaxY: max(a[1], b[1])}
}

// grown is a box with some meters more on every side, as long as they are at
// a place in it.
func grown(box rtree.Box, at orb.Point, meters float64) rtree.Box {
	lon, lat := geodesic.At(at).Span(meters)
	return rtree.Box{MinX: box.MinX - lon, MaxX: box.MaxX + lon, MinY: box.MinY - lat, MaxY: box.MaxY + lat}
}

// segment is one edge of a line.
type segment struct {
	line, edge int
	box        rtree.Box
}

// edgeIndex holds the edges of all lines, in their order.
type edgeIndex struct {
	lines []Line
	all   []segment
	boxIndex
}

func newEdgeIndex(lines []Line) edgeIndex {
	e := edgeIndex{lines: lines}
	for i, l := range lines {
		for n := 1; n < len(l.Path); n++ {
			e.all = append(e.all, segment{i, n, boxOf(l.Path[n-1], l.Path[n])})
		}
	}
	e.boxIndex = newBoxIndex(len(e.all), func(i int) rtree.Box { return e.all[i].box })
	return e
}

// intersection gives where two edges meet, as fractions of each.
func intersection(a, b, c, d orb.Point) (t, u float64, ok bool) {
	rx, ry, sx, sy := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	cross := rx*sy - ry*sx
	if cross == 0 {
		return 0, 0, false
	}
	qx, qy := c[0]-a[0], c[1]-a[1]
	t, u = (qx*sy-qy*sx)/cross, (qx*ry-qy*rx)/cross
	return t, u, t >= 0 && t <= 1 && u >= 0 && u <= 1
}

// nearestOnEdge gives the place of a flat edge that is nearest to p, as a fraction
// of the edge, and its distance.
func nearestOnEdge(p, a, b orb.Point) (t, distance float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	if square := dx*dx + dy*dy; square > 0 {
		t = min(max(((p[0]-a[0])*dx+(p[1]-a[1])*dy)/square, 0), 1)
	}
	return t, math.Hypot(a[0]+t*dx-p[0], a[1]+t*dy-p[1])
}

// toEdge is from a place to an edge in meters, both in degrees, in the frame of
// the place.
func toEdge(p, a, b orb.Point) float64 {
	f := geodesic.At(p)
	_, distance := nearestOnEdge(orb.Point{}, f.Meters(a), f.Meters(b))
	return distance
}

// edgeDistance is between two edges in meters.
func edgeDistance(a, b, c, d orb.Point) float64 {
	if _, _, ok := intersection(a, b, c, d); ok {
		return 0
	}
	return min(toEdge(a, c, d), toEdge(b, c, d), toEdge(c, a, b), toEdge(d, a, b))
}

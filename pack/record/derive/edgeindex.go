package derive

import (
	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles/geodesic"
)

// segment is one edge of a line.
type segment struct {
	line, edge int
	box        rtree.Box
}

// edges are those of all lines, in their order, and in a tree.
type edges struct {
	lines []Line
	all   []segment
	tree  *rtree.RTree
}

func newEdges(lines []Line) edges {
	e := edges{lines: lines}
	var items []rtree.BulkItem
	for i, l := range lines {
		for n := 1; n < len(l.Path); n++ {
			box := boxOf(l.Path[n-1], l.Path[n])
			items = append(items, rtree.BulkItem{Box: box, RecordID: len(e.all)})
			e.all = append(e.all, segment{i, n, box})
		}
	}
	e.tree = rtree.BulkLoad(items)
	return e
}

// within calls back the edges whose boxes meet a box, by their numbers.
func (e edges) within(box rtree.Box, each func(int)) {
	_ = e.tree.RangeSearch(box, func(i int) error { // the callback never fails
		each(i)
		return nil
	})
}

// grown is a box with some metres more on every side, as long as they are at
// a place in it.
func grown(box rtree.Box, at orb.Point, metres float64) rtree.Box {
	lon, lat := geodesic.At(at).Span(metres)
	return rtree.Box{MinX: box.MinX - lon, MaxX: box.MaxX + lon, MinY: box.MinY - lat, MaxY: box.MaxY + lat}
}

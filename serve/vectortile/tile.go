package vectortile

import (
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles"
)

// maxPositions is how many positions a tile's lines and outlines have together before
// they are drawn coarser.
const maxPositions = 20_000

// Tile cuts a tile: its bytes (Mapbox Vector Tile 2.1, not compressed); none
// where there is nothing. t counts rows from the north, and its zooms are those of
// tiles of [TileSize] pixels: one less than the map's own.
//
// A point belongs to one tile only, and the pieces of a line meet at the
// edges of tiles without overlapping: dashes that overlap would make a line
// look surer than it is.
func (x *Index) Tile(t tiles.ID) ([]byte, error) {
	if err := checkZoom(t); err != nil {
		return nil, err
	}
	found := x.within(t)
	if len(found) == 0 {
		return nil, nil
	}
	c := newClipper(x, t)
	return c.encode(x.thin(found, t)), nil
}

// box is a tile's place on the world square.
func box(t tiles.ID) orb.Bound {
	s := side(t.Z)
	west, north := float64(t.X)*s, float64(t.Y)*s
	return orb.Bound{Min: orb.Point{west, north}, Max: orb.Point{west + s, north + s}}
}

func boxOf(b orb.Bound) rtree.Box {
	return rtree.Box{MinX: b.Min[0], MinY: b.Min[1], MaxX: b.Max[0], MaxY: b.Max[1]}
}

func (x *Index) within(t tiles.ID) []int {
	b := box(t)
	n := uint64(1) << t.Z
	var found []int
	_ = x.tree.RangeSearch(boxOf(b), func(i int) error {
		if p, ok := x.items[i].shape.(orb.Point); ok && (cell(p[0], n) != t.X || cell(p[1], n) != t.Y) {
			return nil // on the edge, and the neighbor's
		}
		found = append(found, i)
		return nil
	})
	slices.Sort(found)
	return found
}

// cell is the column or row of a place; the world's last edge belongs to its
// last tile.
func cell(v float64, n uint64) uint32 {
	return uint32(max(0, min(v*float64(n), float64(n-1))))
}

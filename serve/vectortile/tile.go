package vectortile

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles"
)

const (
	// maxMarks is how many marks a tile has. Where there are more, one stands
	// for those around it.
	maxMarks = 200

	// maxPositions is how many positions a tile's lines and outlines have
	// together before they are drawn coarser.
	maxPositions = 20_000

	// finestCell is the smallest square in which one mark stands for all, in
	// pixels: a quarter of a dot's width.
	finestCell = 4
)

// mark is an item that a tile draws, and how many others it stands for.
type mark struct {
	item int
	more int
}

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

// slot is the column or row of a place; the world's last edge belongs to its
// last tile.
func cell(v float64, n uint64) uint32 {
	return uint32(max(0, min(v*float64(n), float64(n-1))))
}

// thin lets one mark stand for those in the same square where a tile has too
// many; the squares are as small as that allows, and marks longer than a
// square stay. Nothing is left out without being counted.
func (x *Index) thin(found []int, t tiles.ID) []mark {
	all := make([]mark, len(found))
	for i, item := range found {
		all[i].item = item
	}
	if len(all) <= maxMarks {
		return all
	}
	for cell := finestCell; cell <= TileSize; cell *= 2 {
		if kept := x.squares(found, t, TileSize/cell); len(kept) <= maxMarks {
			return kept
		}
	}
	kept := x.squares(found, t, 1)
	slices.SortStableFunc(kept, func(a, b mark) int { return cmp.Compare(x.size(b.item), x.size(a.item)) })
	for _, left := range kept[maxMarks:] {
		kept[0].more += 1 + left.more
	}
	return kept[:maxMarks]
}

// squares divides a tile into n by n squares. It gives up when the tile still
// has too many marks, unless there is but one square.
func (x *Index) squares(found []int, t tiles.ID, n int) []mark {
	b := box(t)
	square := side(t.Z) / float64(n)
	first := make([]int32, n*n) // one more than the place in kept of what stands for a square
	var kept []mark
	for _, i := range found {
		if x.size(i) >= square {
			kept = append(kept, mark{item: i})
			continue
		}
		mid := x.items[i].shape.Bound().Center()
		column, row := int((mid[0]-b.Min[0])/square), int((mid[1]-b.Min[1])/square)
		at := &first[max(0, min(row, n-1))*n+max(0, min(column, n-1))]
		if *at > 0 {
			kept[*at-1].more++
			continue
		}
		kept = append(kept, mark{item: i})
		*at = int32(len(kept))
		if n > 1 && len(kept) > maxMarks {
			break
		}
	}
	return kept
}

// size is the longer side of an item's box.
func (x *Index) size(i int) float64 {
	if _, ok := x.items[i].shape.(orb.Point); ok {
		return 0
	}
	b := x.items[i].shape.Bound()
	return math.Max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])
}

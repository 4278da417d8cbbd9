package vectortile

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

const (
	// maxMarks is how many marks a tile has: 16 by 16, or one in each square of
	// 32 pixels.
	maxMarks = 256

	// finestSquares is how many of the smallest squares in which one mark stands
	// for all lie along a tile's side: they are 4 pixels, a quarter of a dot's
	// width. As a power of two.
	finestSquares = 7
)

// mark is an item that a tile draws, and how many others it stands for.
type mark struct {
	item int
	more int
}

// thin lets one mark stand for those in the same square; marks longer than a square
// stay. The squares of a zoom are the same on all the ground, so that equal ground
// has equally many marks wherever tiles meet. Nothing is left out without being counted.
func (x *Index) thin(found []int, t tiles.ID) []mark {
	squares := x.squares(t.Z)
	all := make([]mark, 0, len(found))
	b, n := box(t), 1<<max(0, squares)
	side := side(t.Z) / float64(n)
	first := map[int]int{} // the mark that stands for a square
	for _, i := range found {
		if squares == exact || x.size(i) >= side {
			all = append(all, mark{item: i})
			continue
		}
		mid := x.items[i].shape.Bound().Center()
		column, row := int((mid[0]-b.Min[0])/side), int((mid[1]-b.Min[1])/side)
		square := max(0, min(row, n-1))*n + max(0, min(column, n-1))
		if at, taken := first[square]; taken {
			all[at].more++
			continue
		}
		first[square] = len(all)
		all = append(all, mark{item: i})
	}
	return x.cut(all)
}

// cut leaves out the shortest of too many long lines, which no square holds.
func (x *Index) cut(all []mark) []mark {
	if len(all) <= maxMarks {
		return all
	}
	slices.SortStableFunc(all, func(a, b mark) int { return cmp.Compare(x.size(b.item), x.size(a.item)) })
	for _, left := range all[maxMarks:] {
		all[0].more += 1 + left.more
	}
	return all[:maxMarks]
}

// exact says that nothing is thinned.
const exact = -1

// squares is how many squares lie along the side of every tile of a zoom, as a power of
// two: as many as leave no tile with too many marks. exact where none has too many anyway.
func (x *Index) squares(zoom uint32) int {
	z := &x.zooms[zoom]
	z.once.Do(func() { z.squares = x.countSquares(int(zoom)) })
	return z.squares
}

// finestLevel is the zoom of which a smallest square of the deepest zoom is one tile.
const finestLevel = DeepestZoom + finestSquares

// countSquares counts, for each size of squares, the marks of the fullest tile.
func (x *Index) countSquares(zoom int) int {
	var most, count [finestSquares + 1]int
	var last [finestSquares + 1]uint64 // square with a mark, one more than its number
	tile, all, mostOfAll := uint64(0), 0, 0
	for _, i := range x.order {
		code := placeCode(x.items[i].shape.Bound().Center())
		if here := code>>(2*(finestLevel-zoom)) + 1; here != tile {
			tile, all, count = here, 0, [finestSquares + 1]int{}
		}
		all++
		mostOfAll = max(mostOfAll, all)
		size := x.size(int(i))
		for k := range count {
			square := code>>(2*(finestLevel-zoom-k)) + 1
			if size < math.Ldexp(1, -zoom-k) {
				if square == last[k] {
					continue
				}
				last[k] = square
			}
			count[k]++
			most[k] = max(most[k], count[k])
		}
	}
	if mostOfAll <= maxMarks {
		return exact
	}
	k := finestSquares
	for k > 0 && most[k] > maxMarks {
		k--
	}
	return k
}

// placeCode numbers the smallest squares so that those of one larger square, and of one
// tile, follow one another (Morton order).
func placeCode(p orb.Point) uint64 {
	const n = 1 << finestLevel
	return spread(cell(p[0], n)) | spread(cell(p[1], n))<<1
}

// spread puts a zero before each bit.
func spread(v uint32) uint64 {
	b := uint64(v)
	b = (b | b<<16) & 0x0000ffff0000ffff
	b = (b | b<<8) & 0x00ff00ff00ff00ff
	b = (b | b<<4) & 0x0f0f0f0f0f0f0f0f
	b = (b | b<<2) & 0x3333333333333333
	return (b | b<<1) & 0x5555555555555555
}

// inOrder gives all items in the order of their places.
func inOrder(items []item) []int32 {
	codes, order := make([]uint64, len(items)), make([]int32, len(items))
	for i, it := range items {
		codes[i], order[i] = placeCode(it.shape.Bound().Center()), int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Compare(codes[a], codes[b]) })
	return order
}

// size is the longer side of an item's box.
func (x *Index) size(i int) float64 {
	if _, ok := x.items[i].shape.(orb.Point); ok {
		return 0
	}
	b := x.items[i].shape.Bound()
	return math.Max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])
}

package area

import (
	"cmp"
	"math"
	"slices"

	"groundsheet/tiles"
)

// compactAt is the number of runs above which a cover in the making is joined.
const compactAt = 1 << 20

// coverBuilder gathers the tiles of one zoom. Memory grows with the rows of the area
// and the runs in them.
type coverBuilder struct {
	zoom      int
	n         float64 // tiles across the world
	last      int     // the last row and column
	eps       float64 // tolerance in tiles
	rows      rowLists[run]
	compact   int // join the runs when there are more
	added     int // calls of add that gave a run
	crossings rowLists[float64]
	spans     []tiles.Span // scratch
	scratch   []run
}

// run is some tiles side by side, both columns included.
type run struct{ first, last uint32 }

// reset empties the builder for the rows of a zoom between two heights of the
// world square.
func (k *coverBuilder) reset(zoom int, north, south float64) {
	k.zoom, k.n = zoom, math.Ldexp(1, zoom)
	k.last, k.eps = int(k.n)-1, min(tolerance, millimeter*k.n)
	k.compact, k.added = 0, 0
	k.rows.reset(k.rowsBetween(north, south))
}

// rowsBetween is the rows between two heights of the world square.
func (k *coverBuilder) rowsBetween(north, south float64) (first, last int) {
	return k.row(north * k.n), k.row(south * k.n)
}

// row is the row that holds a height in tiles; heights off the map count for
// the nearest row.
func (k *coverBuilder) row(y float64) int { return int(min(max(math.Floor(y), 0), float64(k.last))) }

// between is the tiles whose inside the interval lo..hi meets. An interval that
// meets none is empty, except that a thin one (no width to lose) has the tile
// that holds its middle.
func (k *coverBuilder) between(lo, hi float64, thin bool) (first, last int) {
	first, last = int(math.Floor(lo+k.eps)), int(math.Ceil(hi-k.eps))-1
	if thin {
		if last < first {
			first = int(math.Floor((lo + hi) / 2))
			last = first
		}
		// As tiles.At does: the very edge of the world counts for its last tile.
		return min(max(first, 0), k.last), min(max(last, 0), k.last)
	}
	return max(first, 0), min(last, k.last)
}

// add takes the tiles of one row that the interval lo..hi meets.
func (k *coverBuilder) add(row int, lo, hi float64, thin bool) {
	first, last := k.between(lo, hi, thin)
	if first > last || !k.rows.holds(row) {
		return
	}
	k.added++
	k.join(row, run{uint32(first), uint32(last)})
	if len(k.rows.items) > max(k.compact, compactAt) {
		spans := k.gather()
		k.rows.reset(k.rows.first, k.rows.first+len(k.rows.heads)-1)
		for _, s := range spans {
			k.rows.push(int(s.Row), run{s.First, s.Last})
		}
		k.compact = 2 * len(spans)
	}
}

// join adds a run to a row. The newest run of the row mostly is its neighbor,
// because shapes are followed along their border.
func (k *coverBuilder) join(row int, r run) {
	if newest := k.rows.newest(row); newest != nil && r.first <= newest.last+1 && newest.first <= r.last+1 {
		newest.first, newest.last = min(newest.first, r.first), max(newest.last, r.last)
		return
	}
	k.rows.push(row, r)
}

// gather gives the runs in tile order, joined; the list is used again.
func (k *coverBuilder) gather() []tiles.Span {
	spans := slices.Grow(k.spans[:0], len(k.rows.items))
	for i := range k.rows.heads {
		row := k.rows.first + i
		k.scratch = k.rows.of(row, k.scratch[:0])
		if len(k.scratch) > 1 {
			slices.SortFunc(k.scratch, func(a, b run) int { return cmp.Compare(a.first, b.first) })
		}
		for j, r := range k.scratch {
			if n := len(spans) - 1; j > 0 && r.first <= spans[n].Last+1 {
				spans[n].Last = max(spans[n].Last, r.last)
				continue
			}
			spans = append(spans, tiles.Span{Row: uint32(row), First: r.first, Last: r.last})
		}
	}
	k.spans = spans
	return spans
}

// cover is what was gathered.
func (k *coverBuilder) cover() tiles.Cover { return tiles.NewCover(k.zoom, slices.Clone(k.gather())) }

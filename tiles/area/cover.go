package area

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// tolerance is how far, in tiles, a shape may reach into a tile without
// counting for it (OGC 17-083r4, Annex I), so that a box drawn on tile borders
// does not pull in its neighbors. At shallow zooms a millionth of a tile is
// meters; there it is a millimeter.
const (
	tolerance  = 1e-6
	millimeter = 2.5e-11 // of the world square, at the equator
)

// Covers gives the tiles whose inside the area meets when it is grown by margin
// meters of ground, one cover a zoom from z.Min to z.Max; a bad range gives nil,
// a margin below zero counts as none. Touching a border or a corner does not
// count. A part without any width counts for the tiles that hold it. A zoom's
// cover does not depend on the other zooms.
//
// Edges are followed to a quarter of a millimeter (those of some hundred
// kilometers and more less closely). The margin, and widths and radii, are
// within 0.1 % up to [MaxReach] and latitude 70. A margin over the antimeridian
// goes on at the other side; one over the end of Web Mercator is cut.
//
// Time and memory grow with the edges and the tile rows they cross, not with
// the number of tiles.
func (a Area) Covers(z tiles.Zooms, margin float64) []tiles.Cover {
	if z.Check() != nil {
		return nil
	}
	if !(margin > 0) { // below zero, or not a number
		margin = 0
	}
	shapes := a.shapes(margin)
	covers := make([]tiles.Cover, 0, z.Max-z.Min+1)
	var k coverBuilder
	for zoom := range z.All() {
		covers = append(covers, shapes.cover(zoom, &k))
	}
	return covers
}

// shapes are the parts of a grown area, projected once. Their covers together
// are the cover of the area, so no union of shapes is ever computed.
type shapes struct {
	fills        []polygonFill
	capsules     []capsule
	north, south float64 // heights of the world square, north the lesser
}

func (a Area) shapes(margin float64) shapes {
	s := shapes{north: math.Inf(1), south: math.Inf(-1)}
	for _, polygon := range a.Polygons {
		s.fills = append(s.fills, newFill(polygon))
		if margin > 0 {
			for _, ring := range polygon {
				s.capsules = appendCapsules(s.capsules, ring, margin)
			}
		}
	}
	for _, strip := range a.Strips {
		s.capsules = appendCapsules(s.capsules, strip.Line, strip.HalfWidth+margin)
	}
	for _, d := range a.Discs {
		s.capsules = appendCapsules(s.capsules, []orb.Point{d.Center, d.Center}, d.Radius+margin)
	}
	for _, f := range s.fills {
		s.north, s.south = min(s.north, f.north), max(s.south, f.south)
	}
	for _, c := range s.capsules {
		s.north, s.south = min(s.north, c.top()), max(s.south, c.bottom())
	}
	return s
}

func (s shapes) cover(zoom int, k *coverBuilder) tiles.Cover {
	if s.north > s.south {
		return tiles.NewCover(zoom, nil)
	}
	k.reset(zoom, s.north, s.south)
	for _, f := range s.fills {
		f.cover(k)
	}
	for _, c := range s.capsules {
		c.cover(k)
	}
	return k.cover()
}

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

// rowLists keeps values by tile row, of a run of rowLists, each row's newest first. It
// is emptied and used again, so that many shapes and zooms share its memory.
type rowLists[T any] struct {
	first int
	heads []int32 // by row, the newest item of the row; none is -1
	items []item[T]
}

type item[T any] struct {
	value T
	older int32
}

// expected is the most rows for which room is made beforehand.
const expected = 1 << 15

// reset empties the list and sets its rows, both included.
func (r *rowLists[T]) reset(first, last int) {
	n := max(last-first+1, 0)
	if cap(r.heads) < n {
		r.heads = make([]int32, n)
		// A border goes down and up again: twice through each row.
		r.items = slices.Grow(r.items[:0], 2*min(n, expected))
	}
	r.first, r.heads, r.items = first, r.heads[:n], r.items[:0]
	for i := range r.heads {
		r.heads[i] = -1
	}
}

// holds reports whether the row is one of the list's.
func (r *rowLists[T]) holds(row int) bool { return uint(row-r.first) < uint(len(r.heads)) }

// newest is the last value pushed to a row, or nil.
func (r *rowLists[T]) newest(row int) *T {
	if i := r.heads[row-r.first]; i >= 0 {
		return &r.items[i].value
	}
	return nil
}

func (r *rowLists[T]) push(row int, v T) {
	head := &r.heads[row-r.first]
	r.items = append(r.items, item[T]{v, *head})
	*head = int32(len(r.items) - 1)
}

// of appends the values of a row to a list.
func (r *rowLists[T]) of(row int, list []T) []T {
	for i := r.heads[row-r.first]; i >= 0; i = r.items[i].older {
		list = append(list, r.items[i].value)
	}
	return list
}

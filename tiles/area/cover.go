package area

import (
	"math"

	"groundsheet/tiles"
)

// tolerance is how far, in tiles, a shape may reach into a tile without
// counting for it (OGC 17-083r4, Annex I), so that a box drawn on tile borders
// does not pull in its neighbours. At shallow zooms a millionth of a tile is
// metres; there it is a millimetre.
const (
	tolerance  = 1e-6
	millimetre = 2.5e-11 // of the world square, at the equator
)

// compactAt is the number of spans above which a cover in the making is joined.
const compactAt = 1 << 20

// Covers gives the tiles whose inside the area meets when it is grown by margin
// metres of ground, one cover a zoom from z.Min to z.Max; a bad range gives nil,
// a margin below zero counts as none. Touching a border or a corner does not
// count. A part without any width counts for the tiles that hold it. A zoom's
// cover does not depend on the other zooms asked for.
//
// Edges are followed to a quarter of a millimetre (those of some hundred
// kilometres and more less closely). The margin, and widths and radii, are
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
	for zoom := range z.All() {
		covers = append(covers, shapes.cover(zoom))
	}
	return covers
}

// shapes are the parts of a grown area, projected once. Their covers together
// are the cover of the area, so no union of shapes is ever computed.
type shapes struct {
	fills    []fill
	capsules []capsule
}

func (a Area) shapes(margin float64) (s shapes) {
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
		s.capsules = appendCapsule(s.capsules, d.Center, d.Center, d.Radius+margin)
	}
	return s
}

func (s shapes) cover(zoom int) tiles.Cover {
	n := math.Ldexp(1, zoom)
	k := &sink{zoom: zoom, n: n, last: int(n) - 1, eps: min(tolerance, millimetre*n)}
	for _, f := range s.fills {
		f.cover(k)
	}
	for _, c := range s.capsules {
		c.cover(k)
	}
	return tiles.NewCover(zoom, k.spans)
}

// sink gathers the spans of one zoom.
type sink struct {
	zoom    int
	n       float64 // tiles across the world
	last    int     // the last row and column
	eps     float64 // tolerance in tiles
	spans   []tiles.Span
	compact int // join the spans when there are more
	added   int // calls of add that gave a span
}

// run is the tiles whose inside the interval lo..hi meets. An interval that
// meets none is empty, except that a thin one (no width to lose) has the tile
// that holds its middle.
func (k *sink) run(lo, hi float64, thin bool) (first, last int) {
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
func (k *sink) add(row int, lo, hi float64, thin bool) {
	first, last := k.run(lo, hi, thin)
	if row < 0 || row > k.last || first > last {
		return
	}
	k.added++
	s := tiles.Span{Row: uint32(row), First: uint32(first), Last: uint32(last)}
	if n := len(k.spans); n > 0 && k.spans[n-1].Row == s.Row {
		before := &k.spans[n-1]
		if s.First <= before.Last+1 && before.First <= s.Last+1 {
			before.First, before.Last = min(before.First, s.First), max(before.Last, s.Last)
			return
		}
	}
	k.spans = append(k.spans, s)
	if len(k.spans) > max(k.compact, compactAt) {
		k.spans = tiles.NewCover(k.zoom, k.spans).Spans()
		k.compact = 2 * len(k.spans)
	}
}

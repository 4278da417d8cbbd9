package tiles

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
)

// Zooms is a range of zooms, both ends included.
type Zooms struct{ Min, Max int }

// Check returns an error for an invalid range.
func (z Zooms) Check() error {
	switch {
	case z.Min < 0 || z.Max < 0:
		return fmt.Errorf("zooms %d to %d: a zoom cannot be negative", z.Min, z.Max)
	case z.Min > z.Max:
		return fmt.Errorf("zooms %d to %d: reversed; give the shallow zoom first: [%d, %d]", z.Min, z.Max, z.Max, z.Min)
	case z.Max > MaxZoom:
		return fmt.Errorf("zooms %d to %d: the deepest zoom is %d", z.Min, z.Max, MaxZoom)
	}
	return nil
}

// All yields the zooms from shallow to deep.
func (z Zooms) All() iter.Seq[int] {
	return func(yield func(int) bool) {
		for n := z.Min; n <= z.Max; n++ {
			if !yield(n) {
				return
			}
		}
	}
}

// Span is a run of tiles in one row, both columns included.
type Span struct{ Row, First, Last uint32 }

// Cover is a set of tiles of one zoom, kept as sorted spans that neither touch
// nor overlap. The zero value is empty. It is immutable after [NewCover].
type Cover struct {
	zoom  int
	spans []Span
}

// NewCover makes a cover from spans in any order; touching and overlapping
// ones are joined, columns and rows outside the matrix are cut off. The spans
// are kept: do not use the slice afterwards.
func NewCover(zoom int, spans []Span) Cover {
	end := uint32(1)<<zoom - 1
	spans = slices.DeleteFunc(spans, func(s Span) bool {
		return s.Row > end || s.First > end || s.First > s.Last
	})
	slices.SortFunc(spans, func(a, b Span) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.First, b.First))
	})
	joined := spans[:0]
	for _, s := range spans {
		s.Last = min(s.Last, end)
		if n := len(joined); n > 0 && joined[n-1].Row == s.Row && s.First <= joined[n-1].Last+1 {
			joined[n-1].Last = max(joined[n-1].Last, s.Last)
			continue
		}
		joined = append(joined, s)
	}
	return Cover{zoom, joined}
}

// Zoom is the zoom of every tile in the cover.
func (c Cover) Zoom() int { return c.zoom }

// Spans are the runs in tile order. Do not change them.
func (c Cover) Spans() []Span { return c.spans }

// Count is the number of tiles; it looks at spans, not tiles.
func (c Cover) Count() uint64 {
	var n uint64
	for _, s := range c.spans {
		n += uint64(s.Last-s.First) + 1
	}
	return n
}

// Has reports whether the tile is in the cover, in time logarithmic in spans.
func (c Cover) Has(t ID) bool {
	if int(t.Z) != c.zoom {
		return false
	}
	i, found := slices.BinarySearchFunc(c.spans, t, func(s Span, t ID) int {
		return cmp.Or(cmp.Compare(s.Row, t.Y), cmp.Compare(s.First, t.X))
	})
	if found {
		return true
	}
	return i > 0 && c.spans[i-1].Row == t.Y && c.spans[i-1].Last >= t.X
}

// All yields the tiles in the one tile order.
func (c Cover) All() iter.Seq[ID] {
	return func(yield func(ID) bool) {
		for _, s := range c.spans {
			for x := s.First; ; x++ {
				if !yield(ID{uint32(c.zoom), x, s.Row}) {
					return
				}
				if x == s.Last {
					break
				}
			}
		}
	}
}

// Bounds is the ground box of the cover in degrees; ok is false when it is empty.
func (c Cover) Bounds() (b Box, ok bool) {
	for i, s := range c.spans {
		first, last := ID{uint32(c.zoom), s.First, s.Row}.Bounds(), ID{uint32(c.zoom), s.Last, s.Row}.Bounds()
		if i == 0 {
			b = first
		}
		b = b.Join(first).Join(last)
	}
	return b, len(c.spans) > 0
}

// Intersect gives the tiles that are in both covers. Covers of different zooms
// share none. It walks spans, not tiles.
func Intersect(a, b Cover) Cover {
	both := Cover{zoom: a.zoom}
	if a.zoom != b.zoom {
		return both
	}
	for i, j := 0, 0; i < len(a.spans) && j < len(b.spans); {
		s, t := a.spans[i], b.spans[j]
		if s.Row == t.Row && s.First <= t.Last && t.First <= s.Last {
			both.spans = append(both.spans, Span{s.Row, max(s.First, t.First), min(s.Last, t.Last)})
		}
		// The one that ends first cannot meet anything that comes later.
		if cmp.Or(cmp.Compare(s.Row, t.Row), cmp.Compare(s.Last, t.Last)) <= 0 {
			i++
		} else {
			j++
		}
	}
	return both
}

package tiles

import "cmp"

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

package union

import (
	"cmp"
	"errors"
	"slices"
)

// rounds limits how often segments are cut until no two cross. A cut moves them to
// the grid, by less than a unit, so that they may meet others; two or three
// rounds are usual.
const rounds = 40

var errUnsettled = errors.New("the crossings of the polygons do not come to an end")

// node cuts segments where they meet, so that afterwards they share ends alone,
// and makes one of those between the same ends. Those gone as often back as
// forth are left out.
func node(all []segment) ([]segment, error) {
	all = merge(all)
	for range rounds {
		n := noder{all: all, cuts: make([][]point, len(all))}
		n.compare()
		cut, any := n.cut()
		all = merge(cut)
		if !any {
			return all, nil
		}
	}
	return nil, errUnsettled
}

func merge(all []segment) []segment {
	slices.SortFunc(all, func(s, t segment) int { return cmp.Or(s.a.compare(t.a), s.b.compare(t.b)) })
	out := all[:0]
	for _, s := range all {
		if n := len(out); n > 0 && out[n-1].a == s.a && out[n-1].b == s.b {
			out[n-1].times += s.times
			out[n-1].moved = out[n-1].moved && s.moved // it was compared with all already
			continue
		}
		out = append(out, s)
	}
	return slices.DeleteFunc(out, func(s segment) bool { return s.times == 0 })
}

// noder finds where segments meet.
type noder struct {
	all  []segment
	cuts [][]point // of each segment, in no order, some twice
}

// compare holds each segment that moved against all that may meet it, by their boxes.
func (n *noder) compare() {
	tree := treeOf(n.all)
	for i, s := range n.all {
		if !s.moved {
			continue
		}
		_ = tree.RangeSearch(s.box(), func(j int) error { // it fails only as the function does
			if j > i || j < i && !n.all[j].moved { // each pair once
				n.meet(i, j)
			}
			return nil
		})
	}
}

// meet cuts two segments where an end of one lies on the other, or so near that it
// is the same place on the grid, else where they cross. Were they cut where they
// cross beside such an end, each cut would move them onto the next crossing beside
// it, unit by unit along both.
func (n *noder) meet(i, j int) {
	s, t := n.all[i], n.all[j]
	near := false
	for _, end := range []struct {
		of   int
		at   point
		here segment
	}{{j, s.a, t}, {j, s.b, t}, {i, t.a, s}, {i, t.b, s}} {
		if end.here.passes(end.at) {
			n.cutAt(end.of, end.at)
			near = true
		}
	}
	if near {
		return
	}
	if side(t.a, t.b, s.a)*side(t.a, t.b, s.b) < 0 && side(s.a, s.b, t.a)*side(s.a, s.b, t.b) < 0 {
		p := crossing(s, t)
		n.cutAt(i, p)
		n.cutAt(j, p)
	}
}

func (n *noder) cutAt(i int, p point) {
	if s := n.all[i]; p != s.a && p != s.b {
		n.cuts[i] = append(n.cuts[i], p)
	}
}

// cut gives the segments in their pieces.
func (n *noder) cut() (out []segment, any bool) {
	for i, s := range n.all {
		s.moved = false
		if len(n.cuts[i]) == 0 {
			out = append(out, s)
			continue
		}
		any = true
		ways := n.cuts[i]
		slices.SortFunc(ways, s.order)
		from := s.a
		for _, to := range append(slices.Compact(ways), s.b) {
			out = append(out, newSegment(from, to, s.times))
			from = to
		}
	}
	return slices.DeleteFunc(out, func(s segment) bool { return s.a == s.b }), any
}

// newSegment goes from one point to another some times.
func newSegment(from, to point, times int32) segment {
	if from.compare(to) > 0 {
		from, to, times = to, from, -times
	}
	return segment{from, to, times, true}
}

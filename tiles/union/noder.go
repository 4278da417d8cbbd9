package union

import (
	"cmp"
	"errors"
	"slices"
)

// few segments are compared with one another directly.
const few = 24

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
		index := make([]int32, len(all))
		for i := range index {
			index[i] = int32(i)
		}
		n.split(index, frameOf(all), 0)
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

// frame is a box of the grid, its borders within it.
type frame struct{ west, south, east, north int64 }

func frameOf(all []segment) (f frame) {
	for i, s := range all {
		if i == 0 {
			f = frame{s.a.x, s.low(), s.b.x, s.high()}
		}
		f = frame{min(f.west, s.a.x), min(f.south, s.low()), max(f.east, s.b.x), max(f.north, s.high())}
	}
	return f
}

// meets reports whether a segment may come into the frame: its box does, and
// not all corners lie on one side of it.
func (f frame) meets(s segment) bool {
	if s.a.x > f.east || s.b.x < f.west || s.low() > f.north || s.high() < f.south {
		return false
	}
	if f.holds(s.a) || f.holds(s.b) {
		return true
	}
	sum := side(s.a, s.b, point{f.west, f.south}) + side(s.a, s.b, point{f.west, f.north}) +
		side(s.a, s.b, point{f.east, f.south}) + side(s.a, s.b, point{f.east, f.north})
	return sum > -4 && sum < 4
}

func (f frame) holds(p point) bool {
	return f.west <= p.x && p.x <= f.east && f.south <= p.y && p.y <= f.north
}

// noder finds where segments meet.
type noder struct {
	all  []segment
	cuts [][]point // of each segment, in no order, some twice
}

// split halves a frame until few segments come into each part.
func (n *noder) split(index []int32, f frame, depth int) {
	const deepest = 60
	wide, high := f.east-f.west, f.north-f.south
	if len(index) <= few || depth == deepest || max(wide, high) <= 1 {
		n.compare(index)
		return
	}
	first, second := f, f
	if wide >= high {
		first.east, second.west = f.west+wide/2, f.west+wide/2 // both: a crossing may lie between two points
	} else {
		first.north, second.south = f.south+high/2, f.south+high/2
	}
	halves := [2][]int32{n.within(index, first), n.within(index, second)}
	if len(halves[0])+len(halves[1]) > 2*len(index)-few/2 && len(index) < 20*few { // they all meet in a place
		n.compare(index)
		return
	}
	n.split(halves[0], first, depth+1)
	n.split(halves[1], second, depth+1)
}

func (n *noder) within(index []int32, f frame) []int32 {
	out := make([]int32, 0, len(index)/2+few)
	for _, i := range index {
		if f.meets(n.all[i]) {
			out = append(out, i)
		}
	}
	return out
}

// compare holds each of some segments against each other.
func (n *noder) compare(index []int32) {
	for k, i := range index {
		s := n.all[i]
		low, high := s.low(), s.high()
		for _, j := range index[k+1:] {
			t := n.all[j]
			if t.a.x > s.b.x { // they are sorted by their first end
				break
			}
			if (s.moved || t.moved) && t.low() <= high && t.high() >= low {
				n.meet(i, j)
			}
		}
	}
}

// meet cuts two segments where they cross, where an end of one lies on the
// other, and where they lie on one another.
func (n *noder) meet(i, j int32) {
	s, t := n.all[i], n.all[j]
	sa, sb := side(t.a, t.b, s.a), side(t.a, t.b, s.b)
	ta, tb := side(s.a, s.b, t.a), side(s.a, s.b, t.b)
	if sa*sb < 0 && ta*tb < 0 {
		p := crossing(s, t)
		n.cutAt(i, p)
		n.cutAt(j, p)
		return
	}
	for _, end := range []struct {
		on   int
		of   int32
		at   point
		here segment
	}{{sa, j, s.a, t}, {sb, j, s.b, t}, {ta, i, t.a, s}, {tb, i, t.b, s}} {
		if end.on == 0 && end.here.between(end.at) {
			n.cutAt(end.of, end.at)
		}
	}
}

func (n *noder) cutAt(i int32, p point) {
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
		slices.SortFunc(ways, point.compare) // along the segment, as it goes from the lesser end
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

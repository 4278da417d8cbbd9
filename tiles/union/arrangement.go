package union

import (
	"math"
	"slices"
	"sync"

	"github.com/peterstace/simplefeatures/rtree"
)

// arrangement is a drawing of segments that share ends alone. Each segment k has two
// edges: 2k from its first end to its second, 2k+1 back. An edge has a face on
// its left; faces that touch the same edges in one round are one loop of it.
type arrangement struct {
	all    []segment
	places []point
	ends   [][2]int32 // of each segment, as places
	from   []int32    // place → its first edge in out
	out    []int32    // edges that leave a place, in turn from straight down, leftwards round
	at     []int32    // edge → its index in out
	loop   []int32    // edge → its loop
	within []int32    // loop → how many polygons hold the face on its side
	known  []bool     // loop → within is computed
	same   []int32    // loop → another of the same ground, see find
}

// newPlane takes segments as [node] gives them.
func newPlane(all []segment) *arrangement {
	p := &arrangement{all: all}
	p.index()
	p.sortEdges()
	p.traceLoops()
	return p
}

// index numbers the places.
func (p *arrangement) index() {
	for _, s := range p.all {
		p.places = append(p.places, s.a, s.b)
	}
	slices.SortFunc(p.places, point.compare)
	p.places = slices.Compact(p.places)
	p.ends = make([][2]int32, len(p.all))
	for k, s := range p.all {
		a, _ := slices.BinarySearchFunc(p.places, s.a, point.compare)
		b, _ := slices.BinarySearchFunc(p.places, s.b, point.compare)
		p.ends[k] = [2]int32{int32(a), int32(b)}
	}
}

// tail is where an edge begins.
func (p *arrangement) tail(edge int32) int32 { return p.ends[edge/2][edge%2] }

// sortEdges puts the edges that leave a place in order.
func (p *arrangement) sortEdges() {
	p.from = make([]int32, len(p.places)+1)
	edges := int32(2 * len(p.all))
	for e := range edges {
		p.from[p.tail(e)+1]++
	}
	for i := range p.places {
		p.from[i+1] += p.from[i]
	}
	next := slices.Clone(p.from)
	p.out, p.at = make([]int32, edges), make([]int32, edges)
	for e := range edges {
		t := p.tail(e)
		p.out[next[t]] = e
		next[t]++
	}
	for i := range p.places {
		slices.SortFunc(p.out[p.from[i]:p.from[i+1]], p.order)
	}
	for i, e := range p.out {
		p.at[e] = int32(i)
	}
}

// order compares the directions of edges that leave one place. An edge with an
// even number goes to the right, or straight up.
func (p *arrangement) order(e, f int32) int {
	if e%2 != f%2 {
		return int(e%2 - f%2)
	}
	here := p.places[p.tail(e)]
	return -side(here, p.places[p.tail(e^1)], p.places[p.tail(f^1)])
}

// before is the edge that leaves the same place next to the right.
func (p *arrangement) before(edge int32) int32 {
	i, t := p.at[edge], p.tail(edge)
	if i == p.from[t] {
		i = p.from[t+1]
	}
	return p.out[i-1]
}

// traceLoops numbers the loops: with the face on the left, every edge is followed by
// the one that turns left the most.
func (p *arrangement) traceLoops() {
	p.loop = make([]int32, len(p.out))
	for i := range p.loop {
		p.loop[i] = -1
	}
	loops := int32(0)
	for first := range p.loop {
		if p.loop[first] >= 0 {
			continue
		}
		for e := int32(first); p.loop[e] < 0; e = p.before(e ^ 1) {
			p.loop[e] = loops
		}
		loops++
	}
	p.within, p.known, p.same = make([]int32, loops), make([]bool, loops), make([]int32, loops)
	for i := range p.same {
		p.same[i] = int32(i)
	}
}

// find names the ground that a loop is of.
func (p *arrangement) find(loop int32) int32 {
	for p.same[loop] != loop {
		p.same[loop] = p.same[p.same[loop]]
		loop = p.same[loop]
	}
	return loop
}

func (p *arrangement) join(a, b int32) { p.same[p.find(a)] = p.find(b) }

// countPolygons computes how many polygons contain each face: none contain the outermost
// one, and over a segment it is more by as often as it was gone. What hangs
// together is done from its leftmost place on, which lies in a face that is done
// already.
func (p *arrangement) countPolygons() {
	tree := sync.OnceValue(func() *rtree.RTree { return treeOf(p.all) }) // mostly all hangs together
	seen := make([]bool, len(p.places))
	outermost := int32(-1)
	for place := range p.places {
		if seen[place] {
			continue
		}
		outer := p.loop[p.out[p.from[place+1]-1]] // left of the last edge there is nothing of it
		under := -1
		if place > 0 { // nothing lies left of the first
			under = p.below(tree(), p.places[place])
		}
		switch {
		case under >= 0:
			p.within[outer] = p.within[p.loop[2*under]]
			p.join(outer, p.loop[2*under])
		case outermost >= 0:
			p.join(outer, outermost)
		default:
			outermost = outer
		}
		p.known[outer] = true
		p.spread(int32(place), seen)
	}
	for k := range p.all {
		if e := int32(2 * k); p.inside(e) == p.inside(e^1) {
			p.join(p.loop[e], p.loop[e^1])
		}
	}
}

// spread counts on from a known loop over all that hangs together with a place
// of it.
func (p *arrangement) spread(place int32, seen []bool) {
	seen[place] = true
	for todo := []int32{place}; len(todo) > 0; {
		place, todo = todo[len(todo)-1], todo[:len(todo)-1]
		edges := p.out[p.from[place]:p.from[place+1]]
		// Some loop that comes by here is known: begin there and go round.
		start := slices.IndexFunc(edges, func(e int32) bool { return p.known[p.loop[e]] })
		for i := range edges {
			e := edges[(start+1+i)%len(edges)] // right of it is what was left of the one before
			right, left, times := p.loop[e^1], p.loop[e], p.all[e/2].times
			if e%2 == 1 {
				times = -times
			}
			if !p.known[left] {
				p.within[left], p.known[left] = p.within[right]+times, true
			}
			if head := p.tail(e ^ 1); !seen[head] {
				seen[head] = true
				todo = append(todo, head)
			}
		}
	}
}

// inside reports whether any polygon holds the ground left of an edge.
func (p *arrangement) inside(edge int32) bool { return p.within[p.loop[edge]] > 0 }

// below is the segment next under a place, -1 for none, among those that go over its
// left side.
func (p *arrangement) below(tree *rtree.RTree, at point) int {
	best := -1
	ray := rtree.Box{MinX: float64(at.x), MinY: math.Inf(-1), MaxX: float64(at.x), MaxY: float64(at.y)}
	_ = tree.RangeSearch(ray, func(k int) error { // it fails only as the function does
		s := p.all[k]
		if s.a.x < at.x && at.x <= s.b.x && side(s.a, s.b, at) > 0 && (best < 0 || over(s, p.all[best])) {
			best = k
		}
		return nil
	})
	return best
}

// over reports whether one segment lies over another where both are: they do not
// cross.
func over(s, t segment) bool {
	if s.a.x >= t.a.x {
		if d := side(t.a, t.b, s.a); d != 0 {
			return d > 0
		}
		return side(t.a, t.b, s.b) > 0
	}
	if d := side(s.a, s.b, t.a); d != 0 {
		return d < 0
	}
	return side(s.a, s.b, t.b) < 0
}

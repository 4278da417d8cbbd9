package overlay

import (
	"cmp"
	"math"
	"slices"

	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Limits of what counts as beside, in metres and radians: the project's own
// choice, no source.
const (
	leastBeside  = 1.0                // reach of a pair at least, where little or nothing is stated
	mostBeside   = 5.0                // reach of a line at most: records off by more are beside everything
	shortBeside  = 2.0                // shorter stretches are told by their crossing, if any
	gapBeside    = 2.0                // stretches of a pair nearer than this are one
	alongside    = 30 * math.Pi / 180 // between the directions of two edges
	mostBesideOf = 20                 // pairs told of a job; the rest are counted
)

// pair is two lines, by their numbers in the list.
type pair struct{ a, b int }

// stretch is where two lines run beside one another.
type stretch struct{ from, to, least float64 } // stations on the first line; least distance

// Beside finds lines that run within reach of one another: both zones and
// stated accuracies, or half widths where no rule is stated, and 1 m at least.
// Lines in one trench meet at no one place, so no crossing tells of them.
func Beside(lines []Line, zones []Zone, units string) []Finding {
	reach := make([]float64, len(lines))
	widest := 0.0
	for i, l := range lines {
		r := zones[i].ReachM
		if r == 0 && l.HalfWidthM != nil {
			r = *l.HalfWidthM
		}
		if l.AccuracyM != nil {
			r += *l.AccuracyM
		}
		reach[i] = min(max(r, leastBeside/2), mostBeside)
		widest = max(widest, reach[i])
	}
	all := segments(lines)
	tree := index(all)
	found := map[pair][]stretch{}
	for i, s := range all {
		a := lines[s.line]
		box := s.box
		lon, lat := geodesic.At(a.Path[s.edge]).Span(reach[s.line] + widest)
		box = rtree.Box{MinX: box.MinX - lon, MaxX: box.MaxX + lon, MinY: box.MinY - lat, MaxY: box.MaxY + lat}
		_ = tree.RangeSearch(box, func(j int) error { // the callback never fails
			if o := all[j]; j > i && o.line != s.line {
				if at, ok := a.beside(s.edge, lines[o.line], o.edge, reach[s.line]+reach[o.line]); ok {
					p := pair{s.line, o.line}
					found[p] = append(found[p], at)
				}
			}
			return nil
		})
	}
	return tell(lines, found, units)
}

// beside gives the part of an edge that has another edge within reach square
// to it: along the edge the foot and the offset change evenly, so that it is
// one interval.
func (l Line) beside(e int, o Line, f int, reach float64) (stretch, bool) {
	frame := geodesic.At(l.Path[e-1])
	b, c, d := frame.Metres(l.Path[e]), frame.Metres(o.Path[f-1]), frame.Metres(o.Path[f])
	long := math.Hypot(b[0], b[1])
	if long == 0 {
		return stretch{}, false
	}
	ux, uy := b[0]/long, b[1]/long
	along := func(p [2]float64) (x, y float64) { return p[0]*ux + p[1]*uy, p[1]*ux - p[0]*uy }
	x0, y0 := along(c)
	x1, y1 := along(d)
	if x0 > x1 {
		x0, y0, x1, y1 = x1, y1, x0, y0
	}
	if math.Atan2(abs(y1-y0), x1-x0) > alongside || x1 == x0 {
		return stretch{}, false
	}
	from, to := max(x0, 0), min(x1, long)
	slope := (y1 - y0) / (x1 - x0)
	if slope != 0 { // |y0 + slope·(x−x0)| ≤ reach
		lo, hi := x0+(-reach-y0)/slope, x0+(reach-y0)/slope
		from, to = max(from, min(lo, hi)), min(to, max(lo, hi))
	} else if abs(y0) > reach {
		return stretch{}, false
	}
	if to <= from {
		return stretch{}, false
	}
	p, q := y0+slope*(from-x0), y0+slope*(to-x0)
	least := min(abs(p), abs(q))
	if p*q < 0 {
		least = 0
	}
	return stretch{l.at[e-1] + from, l.at[e-1] + to, least}, true
}

// tell joins the stretches of each pair and puts them into words, the longest
// pairs first.
func tell(lines []Line, found map[pair][]stretch, units string) []Finding {
	type told struct {
		pair
		long, least float64
		from        float64
	}
	var all []told
	for p, list := range found {
		slices.SortFunc(list, func(a, b stretch) int { return cmp.Compare(a.from, b.from) })
		t := told{pair: p, least: math.Inf(1), from: math.NaN()}
		for i := 0; i < len(list); {
			s := list[i]
			for i++; i < len(list) && list[i].from-s.to < gapBeside; i++ {
				s.to, s.least = max(s.to, list[i].to), min(s.least, list[i].least)
			}
			if s.to-s.from >= shortBeside {
				if math.IsNaN(t.from) {
					t.from = s.from
				}
				t.long, t.least = t.long+s.to-s.from, min(t.least, s.least)
			}
		}
		if t.long > 0 {
			all = append(all, t)
		}
	}
	slices.SortFunc(all, func(a, b told) int {
		return cmp.Or(cmp.Compare(b.long, a.long), cmp.Compare(a.a, b.a), cmp.Compare(a.b, b.b))
	})
	var out []Finding
	for i, t := range all {
		if i == mostBesideOf {
			out = append(out, Finding{"beside", Warning, lines[t.a].Overlay, 0, words.Say("beside.more", "n", len(all)-i)})
			break
		}
		a, b := lines[t.a], lines[t.b]
		nameA, nameB := called(a, b)
		in := func(m float64) string { return measure.Distance(m).In(cmp.Or(units, "us")) }
		say := words.Say("beside.runs", "one", nameA, "other", nameB, "length", in(t.long), "station", in(t.from), "least", in(t.least))
		if a.Utility == b.Utility {
			say += words.Say("beside.same")
		}
		out = append(out, Finding{"beside", Warning, a.ID, 0, say})
	}
	return out
}

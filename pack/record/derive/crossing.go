package derive

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// Crossing is a place where two lines meet in plan. Whether they meet in the
// ground depends on their depths.
type Crossing struct {
	A, B        string          `json:"-"`
	Lines       [2]string       `json:"lines"` // IDs of [Line]
	Utilities   [2]string       `json:"utilities"`
	Place       orb.Point       `json:"place"`
	StationsM   [2]float64      `json:"stations_m"`
	Depths      [2]Depth        `json:"depths"`
	Kind        string          `json:"kind"`         // what can be said of above and below, see [Above]
	SeparationM *float64        `json:"separation_m"` // between the two tops by the numbers; nil = unknown or not comparable
	ClearM      *float64        `json:"clear_m"`      // least clear height between the two within the stated doubts; nil = not known
	Upper       string          `json:"upper"`        // ID of the line whose top is higher beyond the stated doubts; "" = not told
	Relation    string          `json:"relation"`     // in words for people
	InArea      bool            `json:"in_area"`
	States      [2]record.State `json:"states"`
	Rules       []Judgment      `json:"rules,omitempty"` // what the job's rules of clearance say of it
}

// Crossings finds where different lines meet, by an R-tree over their edges,
// in the order of the lines. Lines of one overlay that only touch at an end (a
// tee, or one line continued) are not crossings. Edges are straight in degrees
// (RFC 7946, 3.1.1), so the place is exact without any projection; edges that
// lie on each other meet at no one place and are left out.
func Crossings(lines []Line, gap float64) []Crossing { return newEdges(lines).crossings(gap) }

func (e edges) crossings(gap float64) []Crossing {
	found := []Crossing{}
	for i, s := range e.all {
		e.within(s.box, func(j int) {
			o := e.all[j]
			if j <= i || s.line == o.line {
				return
			}
			a, b := e.lines[s.line], e.lines[o.line]
			t, u, ok := meet(a.Path[s.edge-1], a.Path[s.edge], b.Path[o.edge-1], b.Path[o.edge])
			if ok {
				at := [2]float64{a.station(s.edge, t), b.station(o.edge, u)}
				if a.Overlay != b.Overlay || !(a.isEnd(at[0]) || b.isEnd(at[1])) {
					found = append(found, crossing(a, b, at, gap))
				}
			}
		})
	}
	slices.SortFunc(found, func(a, b Crossing) int {
		return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B), cmp.Compare(a.StationsM[0], b.StationsM[0]), cmp.Compare(a.StationsM[1], b.StationsM[1]))
	})
	return slices.CompactFunc(found, func(a, b Crossing) bool { // a corner belongs to two edges
		return a.A == b.A && a.B == b.B && abs(a.StationsM[0]-b.StationsM[0]) < 1e-3 && abs(a.StationsM[1]-b.StationsM[1]) < 1e-3
	})
}

func (l Line) station(edge int, t float64) float64 {
	return l.at[edge-1] + t*(l.at[edge]-l.at[edge-1])
}

func (l Line) isEnd(at float64) bool { return at < 1e-3 || at > l.LengthM-1e-3 }

// meet gives where two edges meet, as fractions of each.
func meet(a, b, c, d orb.Point) (t, u float64, ok bool) {
	rx, ry, sx, sy := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	cross := rx*sy - ry*sx
	if cross == 0 {
		return 0, 0, false
	}
	qx, qy := c[0]-a[0], c[1]-a[1]
	t, u = (qx*sy-qy*sx)/cross, (qx*ry-qy*rx)/cross
	return t, u, t >= 0 && t <= 1 && u >= 0 && u <= 1
}

func crossing(a, b Line, at [2]float64, gap float64) Crossing {
	c := Crossing{
		A: a.ID, B: b.ID, Lines: [2]string{a.ID, b.ID}, Utilities: [2]string{a.Utility, b.Utility}, Place: a.At(at[0]), StationsM: at,
		Depths: [2]Depth{a.DepthAt(at[0], gap), b.DepthAt(at[1], gap)},
	}
	c.relate(a, b)
	c.tellStates(a, b)
	return c
}

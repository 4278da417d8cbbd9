package derive

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// Crossing is a place where two lines meet in plan. Whether they meet in the
// ground depends on their depths.
type Crossing struct {
	Lines       [2]string       `json:"lines"` // IDs of [Line]
	Utilities   [2]string       `json:"utilities"`
	Place       orb.Point       `json:"place"`
	StationsM   [2]float64      `json:"stations_m"`
	Depths      [2]Depth        `json:"depths"`
	Kind        string          `json:"kind"`         // what the depths say of above and below, see [Above]
	SeparationM *float64        `json:"separation_m"` // between the two tops by the numbers; nil = unknown or not comparable
	ClearM      *float64        `json:"clear_m"`      // least clear height within the stated uncertainties; nil = not known
	Upper       string          `json:"upper"`        // ID of the line whose top is higher beyond the stated uncertainties; "" = neither
	Relation    string          `json:"relation"`     // in words for people
	InArea      bool            `json:"in_area"`
	States      [2]record.State `json:"states"`
	Rules       []Judgment      `json:"rules,omitempty"` // by the job's clearance rules
}

// Crossings finds where different lines meet, in the order of the lines. gap is
// the largest gap of readings, in metres, across which a depth is interpolated.
// Lines of one overlay that only touch at an end (a tee, or one line continued)
// are not crossings. Edges are straight in degrees (RFC 7946, 3.1.1), so the place
// is exact without any projection; edges that lie on each other meet at no one
// place and are left out.
func Crossings(lines []Line, gap float64) []Crossing { return newEdgeIndex(lines).crossings(gap) }

func (e edgeIndex) crossings(gap float64) []Crossing {
	found := []Crossing{}
	for i, s := range e.all {
		for j := range e.in(s.box) {
			o := e.all[j]
			if j <= i || s.line == o.line {
				continue
			}
			a, b := e.lines[s.line], e.lines[o.line]
			t, u, ok := intersection(a.Path[s.edge-1], a.Path[s.edge], b.Path[o.edge-1], b.Path[o.edge])
			if !ok {
				continue
			}
			at := [2]float64{a.stationOn(s.edge, t), b.stationOn(o.edge, u)}
			if a.Overlay != b.Overlay || !(a.isEnd(at[0]) || b.isEnd(at[1])) {
				found = append(found, newCrossing(a, b, at, gap))
			}
		}
	}
	slices.SortFunc(found, func(a, b Crossing) int {
		return cmp.Or(slices.Compare(a.Lines[:], b.Lines[:]), slices.Compare(a.StationsM[:], b.StationsM[:]))
	})
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-3 }
	return slices.CompactFunc(found, func(a, b Crossing) bool { // a corner belongs to two edges
		return a.Lines == b.Lines && near(a.StationsM[0], b.StationsM[0]) && near(a.StationsM[1], b.StationsM[1])
	})
}

// stationOn is the station at a fraction of an edge.
func (l Line) stationOn(edge int, t float64) float64 {
	return l.at[edge-1] + t*(l.at[edge]-l.at[edge-1])
}

func (l Line) isEnd(at float64) bool { return at < 1e-3 || at > l.LengthM-1e-3 }

func newCrossing(a, b Line, at [2]float64, gap float64) Crossing {
	c := Crossing{
		Lines: [2]string{a.ID, b.ID}, Utilities: [2]string{a.Utility, b.Utility}, Place: a.At(at[0]), StationsM: at,
		Depths: [2]Depth{a.DepthAt(at[0], gap), b.DepthAt(at[1], gap)},
	}
	c.relate(a, b)
	c.addStates(a, b)
	return c
}

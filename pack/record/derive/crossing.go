package derive

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Crossing is a place where two lines meet in plan. Whether they meet in the
// ground depends on their depths.
type Crossing struct {
	Lines     [2]string  `json:"lines"` // IDs of [Line]
	Utilities [2]string  `json:"utilities"`
	Place     orb.Point  `json:"place"`
	StationsM [2]float64 `json:"stations_m"`
	Depths    [2]Depth   `json:"depths"`
	Kind      string     `json:"kind"` // what the depths say of above and below, see [Above]
	// between the two tops by the numbers; nil = unknown or not comparable
	SeparationM *float64 `json:"separation_m"`
	// least clear height within the stated uncertainties; nil = not known
	ClearM *float64 `json:"clear_m"`
	// ID of the line whose top is higher beyond the stated uncertainties; "" = neither
	Upper    string          `json:"upper"`
	Relation string          `json:"relation"` // in words for people
	InArea   bool            `json:"in_area"`
	States   [2]record.State `json:"states"`
	Rules    []Judgment      `json:"rules,omitempty"` // by the job's clearance rules
}

// crossings finds where different lines meet, in the order of the lines. gap is
// the largest gap of readings, in meters, across which a depth is interpolated.
// Lines of one overlay that only touch at an end (a tee, or one line continued)
// are not crossings. Edges are straight in degrees (RFC 7946, 3.1.1), so the place
// is exact without any projection; edges that lie on each other meet at no one
// place and are left out. all is false where there are more than [mostCrossings].
func (e edgeIndex) crossings(gap float64) (found []Crossing, all bool) {
	found = []Crossing{}
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
			if len(found) > mostCrossings {
				return found, false
			}
		}
	}
	slices.SortFunc(found, func(a, b Crossing) int {
		return cmp.Or(slices.Compare(a.Lines[:], b.Lines[:]), slices.Compare(a.StationsM[:], b.StationsM[:]))
	})
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-3 }
	return slices.CompactFunc(found, func(a, b Crossing) bool { // a corner belongs to two edges
		return a.Lines == b.Lines && near(a.StationsM[0], b.StationsM[0]) && near(a.StationsM[1], b.StationsM[1])
	}), true
}

// stationOn is the station at a fraction of an edge.
func (l Line) stationOn(edge int, t float64) float64 {
	return l.at[edge-1] + t*(l.at[edge]-l.at[edge-1])
}

func (l Line) isEnd(at float64) bool { return at < 1e-3 || at > l.LengthM-1e-3 }

func newCrossing(a, b Line, at [2]float64, gap float64) Crossing {
	c := Crossing{
		Lines: [2]string{a.ID, b.ID}, Utilities: [2]string{a.Utility, b.Utility}, Place: a.At(at[0]), StationsM: at,
		Depths: [2]Depth{a.depthAt(at[0], gap), b.depthAt(at[1], gap)},
	}
	c.relate(a, b)
	if a.Utility == b.Utility && (a.Basis == basisReadings) != (b.Basis == basisReadings) {
		c.Relation += "; " + words.Say("crossing.may_be_one")
	}
	c.addStates(a, b)
	return c
}

// Kinds of [Crossing]: what the depths of two lines say of each other.
const (
	Above         = "above"          // one top is above the other, beyond the stated uncertainties
	MayTouch      = "may touch"      // within sizes and stated uncertainties they may meet
	NotComparable = "not comparable" // the depths are not of the same part of the lines
	DepthUnknown  = "unknown"        // of one line or both
)

// depthRange is where something may lie, in meters below the ground, by a recorded
// number and its stated uncertainty.
type depthRange struct{ least, most float64 }

// topOf is where the top of a line with a depth may lie, and half of its size; 0
// for a size that is not recorded.
func topOf(d Depth, size *float64) (top depthRange, half float64) {
	half = orZero(size)
	least, most := 2*half, 0.0 // of the way up to the top, where the measured part is not stated
	switch d.Of {
	case Top:
		least = 0
	case Center:
		least, most = half, half
	case Bottom:
		most = 2 * half
	}
	uncertain := orZero(d.DoubtM)
	return depthRange{*d.M - least - uncertain, *d.M - most + uncertain}, half
}

// topAndBottom gives where the top of a line lies, and its bottom where the size
// is recorded. ok is false where the top is not known.
func topAndBottom(d Depth, size *float64) (top depthRange, bottom *depthRange, ok bool) {
	if d.Of == "" || size == nil && d.Of != Top {
		return depthRange{}, nil, false
	}
	top, half := topOf(d, size)
	if size != nil {
		bottom = &depthRange{top.least + 2*half, top.most + 2*half}
	}
	return top, bottom, true
}

// relate states what follows from the two depths, and no more: a line is
// above the other only if its top is, wherever both lie within their uncertainties.
func (c *Crossing) relate(a, b Line) {
	if c.Depths[0].M == nil || c.Depths[1].M == nil {
		c.Kind, c.Relation = DepthUnknown, words.Say("crossing.unknown")
		return
	}
	topA, bottomA, okA := topAndBottom(c.Depths[0], a.HalfWidthM)
	topB, bottomB, okB := topAndBottom(c.Depths[1], b.HalfWidthM)
	if !okA || !okB {
		c.Kind, c.Relation = NotComparable, words.Say("crossing.not_comparable")
		return
	}
	apart := math.Abs(topA.least+topA.most-topB.least-topB.most) / 2
	c.SeparationM = &apart
	nameA, nameB := pairNames(a, b)
	switch {
	case topA.most < topB.least:
		c.relateAbove(a.ID, nameA, nameB, bottomA, topB)
	case topB.most < topA.least:
		c.relateAbove(b.ID, nameB, nameA, bottomB, topA)
	default:
		c.Kind, c.Relation = MayTouch, words.Say("crossing.may_touch")
	}
}

// relateAbove is for a line whose top is above that of another.
func (c *Crossing) relateAbove(id, upper, lower string, bottom *depthRange, top depthRange) {
	switch {
	case bottom == nil:
		c.Kind, c.Upper, c.Relation = Above, id, words.Say("crossing.above_no_size", "upper", upper, "lower", lower)
	case bottom.most >= top.least:
		c.Kind, c.Relation = MayTouch, words.Say("crossing.overlap", "upper", upper)
	default:
		c.Kind, c.Upper, c.Relation = Above, id, words.Say("crossing.above", "upper", upper, "lower", lower)
		// an invert leaves out the wall
		if clear := top.least - bottom.most; c.Depths[0].Of != Bottom && c.Depths[1].Of != Bottom {
			c.ClearM = &clear
		}
	}
}

// pairNames gives two lines distinct names.
func pairNames(a, b Line) (string, string) {
	name := func(l Line) string {
		if l.Utility == "proposed" {
			return words.Say("crossing.proposed")
		}
		return l.Utility
	}
	first, second := name(a), name(b)
	if first == second {
		return fmt.Sprintf("%s %s", first, record.Quote(a.nameOrID())),
			fmt.Sprintf("%s %s", second, record.Quote(b.nameOrID()))
	}
	return first, second
}

// addStates copies the states of the two lines, and adds to the relation that a
// proposed line is not built by its record.
func (c *Crossing) addStates(a, b Line) {
	c.States = [2]record.State{a.State, b.State}
	switch {
	case a.State == record.Proposed && b.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.both_not_built")
	case a.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", a.asProposed())
	case b.State == record.Proposed:
		c.Relation += "; " + words.Say("crossing.not_built", "line", b.asProposed())
	}
}

// asProposed names a proposed line.
func (l Line) asProposed() string {
	if l.Utility == "proposed" {
		return words.Say("crossing.proposed")
	}
	return words.Say("crossing.proposed_of", "line", l.Utility+" "+record.Quote(l.nameOrID()))
}

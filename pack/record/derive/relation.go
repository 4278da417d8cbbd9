package derive

import (
	"fmt"
	"math"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Kinds of [Crossing]: what the depths of two lines say of each other.
const (
	Above         = "above"          // one top is above the other, beyond the stated uncertainties
	MayTouch      = "may touch"      // within sizes and stated uncertainties they may meet
	NotComparable = "not comparable" // the depths are not of the same part of the lines
	DepthUnknown  = "unknown"        // of one line or both
)

// depthRange is where something may lie, in metres below the ground, by a recorded
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
// is recorded. ok is false where the top cannot be told.
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

// relate says what the two depths tell of each other, and no more: a line is
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
		if clear := top.least - bottom.most; c.Depths[0].Of != Bottom && c.Depths[1].Of != Bottom { // an invert leaves out the wall
			c.ClearM = &clear
		}
	}
}

// pairNames names two lines so that they can be told apart.
func pairNames(a, b Line) (string, string) {
	name := func(l Line) string {
		if l.Utility == "proposed" {
			return words.Say("crossing.proposed")
		}
		return l.Utility
	}
	first, second := name(a), name(b)
	if first == second {
		return fmt.Sprintf("%s %s", first, record.Quote(a.nameOrID())), fmt.Sprintf("%s %s", second, record.Quote(b.nameOrID()))
	}
	return first, second
}

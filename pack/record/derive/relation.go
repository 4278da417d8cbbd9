package derive

import (
	"fmt"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Kinds of [Crossing]: what the depths of two lines say of each other.
const (
	Above         = "above"          // one top is above the other, beyond the stated doubts
	MayTouch      = "may touch"      // within sizes and stated doubts they may meet
	NotComparable = "not comparable" // the depths are not of the same part of the lines
	DepthUnknown  = "unknown"        // of one line or both
)

// span is where something may lie, in metres below the ground, by a recorded
// number and its stated doubt.
type span struct{ least, most float64 }

// extent gives where the top of a line lies, and its bottom where that can be
// told: from the depth, what it is measured to, and the recorded size. ok is
// false where the top cannot be told.
func extent(d Depth, half *float64) (top span, bottom *span, ok bool) {
	if d.M == nil || d.Of == "" || half == nil && d.Of != Top {
		return span{}, nil, false
	}
	doubt := 0.0
	if d.DoubtM != nil {
		doubt = *d.DoubtM
	}
	if half == nil {
		return span{*d.M - doubt, *d.M + doubt}, nil, true
	}
	up := map[string]float64{Top: 0, Center: *half, Bottom: 2 * *half}[d.Of]
	top = span{*d.M - up - doubt, *d.M - up + doubt}
	return top, &span{top.least + 2**half, top.most + 2**half}, true
}

// relate tells what the two depths say of each other, and no more: a line is
// above the other only if its top is, wherever both lie within their doubts.
func (c *Crossing) relate(a, b Line) {
	if c.Depths[0].M == nil || c.Depths[1].M == nil {
		c.Kind, c.Relation = DepthUnknown, words.Say("crossing.unknown")
		return
	}
	topA, bottomA, okA := extent(c.Depths[0], a.HalfWidthM)
	topB, bottomB, okB := extent(c.Depths[1], b.HalfWidthM)
	if !okA || !okB {
		c.Kind, c.Relation = NotComparable, words.Say("crossing.not_comparable")
		return
	}
	apart := abs(topA.least+topA.most-topB.least-topB.most) / 2
	c.SeparationM = &apart
	nameA, nameB := called(a, b)
	switch {
	case topA.most < topB.least:
		c.stacked(a.ID, nameA, nameB, bottomA, topB)
	case topB.most < topA.least:
		c.stacked(b.ID, nameB, nameA, bottomB, topA)
	default:
		c.Kind, c.Relation = MayTouch, words.Say("crossing.may_touch")
	}
}

// stacked tells of a line whose top is above that of another.
func (c *Crossing) stacked(id, upper, lower string, bottom *span, top span) {
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

// called names two lines so that they can be told apart.
func called(a, b Line) (string, string) {
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

func (l Line) nameOrID() string {
	if t := l.Title(); t != "" {
		return t
	}
	return l.ID
}

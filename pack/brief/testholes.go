package brief

import (
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words"
	"slices"

	"github.com/paulmach/orb"
)

// drawTestHole is the mark of a test hole: a square with a dot.
func drawTestHole(c canvas, p orb.Point, s record.Symbology, half float64) {
	square := func(half float64) []orb.Ring {
		return []orb.Ring{rectangle(around(p, half))}
	}
	c.Fill(square(half+0.55), black, 1)
	c.Fill(square(half+0.3), white, 1)
	c.Fill(square(half), s.Colour, 1)
	c.Disc(p, half*0.45, s.Casing)
}

// Half sides of test holes, in millimetres.
const (
	holeHalf      = 1.4
	holeHalfSmall = 0.7 // on the overview
)

// testHoleLegend is the entry of test holes, where there are any.
func (s site) testHoleLegend() []legendEntry {
	if !slices.ContainsFunc(s.overlays, func(o record.Overlay) bool { return o.TestHoles() > 0 }) {
		return nil
	}
	return []legendEntry{{func(c canvas, a, b orb.Point) {
		drawTestHole(c, orb.Point{(a[0] + b[0]) / 2, a[1]}, record.SymbologyOf("survey", ""), holeHalf)
	}, words.Say("legend.test_hole")}}
}

// readingCount tells readings and, apart from them, test holes.
func readingCount(st derive.Statistics) string {
	text := words.Say("paper.readings", "n", st.Readings, "with_depth", st.WithDepth)
	if st.TestHoles > 0 {
		text += "; " + words.Say("testhole.count", "n", st.TestHoles)
	}
	return text
}

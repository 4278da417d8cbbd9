package brief

import (
	"groundsheet/pack/record"

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

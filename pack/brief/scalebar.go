package brief

import (
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

func resolution(v view, zoom, tileSize int) float64 {
	return tiles.GroundResolution(v.middle.Lat(), zoom, tileSize)
}

// scaleBar is a bar of a round length with its length on paper, so that whoever
// holds the print can prove it. at is its lower left corner.
func (v view) scaleBar(c canvas, units string, at orb.Point) {
	metres := roundLength(0.052*v.scale, units)
	long := metres / v.scale * 1000
	const parts, high = 4, 1.8
	for i := range parts {
		b := box{at[0] + long*float64(i)/parts, at[1] - high, long / parts, high}
		if i%2 == 0 {
			c.Fill([]orb.Ring{rectangle(b)}, black, 1)
		}
		c.Stroke(rectangle(b), pen{colour: black, width: 0.6})
	}
	c.Text(orb.Point{at[0] - padding, at[1] - high - 1.2}, "0", lettering{size: 7.5})
	c.Text(orb.Point{at[0] + long/2, at[1] - high - 1.2}, measure.Distance(metres/2).In(units), lettering{size: 7.5, align: 'c'})
	c.Text(orb.Point{at[0] + long, at[1] - high - 1.2}, measure.Distance(metres).In(units), lettering{size: 7.5, align: 'c'})
	onPaper := strconv.FormatFloat(long, 'f', 1, 64) + " mm"
	if units == "us" {
		onPaper = strconv.FormatFloat(long/25.4, 'f', 2, 64) + " in"
	}
	for i, line := range strings.Split(words.Say("mapsheet.print", "long", onPaper, "scale", scaleWords(v.scale, units)), "\n") {
		c.Text(orb.Point{at[0] - padding, at[1] + 4 + 3.2*float64(i)}, line, lettering{size: 7})
	}
}

// north is an arrow to where true north is on paper, with an upright letter at
// its tip; turn is that of the view. Middle is that of both, and half is half of
// the arrow in millimetres.
func north(c canvas, middle orb.Point, half, turn float64) {
	way := northward(turn)
	at := func(along, right float64) orb.Point {
		along -= northLetter / 2
		return orb.Point{middle[0] + along*way[0] - right*way[1], middle[1] + along*way[1] + right*way[0]}
	}
	wide := half / 2
	tip, left, notch, right := at(half, 0), at(-half, -wide), at(-half*0.55, 0), at(-half, wide)
	c.Fill([]orb.Ring{{tip, left, notch, tip}}, black, 1)
	c.Stroke([]orb.Point{tip, right, notch, left, tip}, pen{colour: black, width: 0.7})
	n := at(half+northLetter*0.6, 0)
	c.Text(orb.Point{n[0], n[1] + 1.2}, "N", lettering{size: 9, bold: true, align: 'c'})
}

// northLetter is the room of the letter, in millimetres.
const northLetter = 3.4

// northward is where true north is on the paper of a turned view: a quarter turn
// from east. Rows run down.
func northward(turn float64) orb.Point { return orb.Point{math.Sin(turn), -math.Cos(turn)} }

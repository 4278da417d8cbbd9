package brief

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/tiles/measure"
)

// Papers, as Options and the PDF name them.
const (
	Letter = "letter"
	A4     = "a4"
)

// box is a part of a page, in millimeters from its upper left corner.
type box struct{ X, Y, W, H float64 }

// inches and feet make a US scale: 1 in on paper is so many feet on the ground.
var usScales = []float64{10, 20, 30, 40, 50, 60} // then ten times as much, and so on

// metricScales are of 1:N, then ten times as much. Both rows are those of the
// common scale rulers of surveyors: common practice.
var metricScales = []float64{100, 200, 250, 500}

// scales gives the standard scales of a unit system, the largest first, up to
// where the earth fits on a page.
func scales(units string) []float64 {
	row, factor := metricScales, 1.0
	if units == "us" {
		row, factor = usScales, 12
	}
	var all []float64
	for power := 1.0; power < 1e7; power *= 10 {
		for _, v := range row {
			all = append(all, v*factor*power)
		}
	}
	return all
}

// firstScale is the largest standard scale that fits, else the smallest.
func firstScale(units string, fits func(scale float64) bool) float64 {
	all := scales(units)
	if i := slices.IndexFunc(all, fits); i >= 0 {
		return all[i]
	}
	return all[len(all)-1]
}

// scaleWords says a scale, such as "1 in = 20 ft (1:240)" or "1:500".
func scaleWords(n float64, units string) string {
	ratio := "1:" + strconv.FormatFloat(n, 'f', -1, 64)
	if feet := n / 12; units == "us" && feet == math.Trunc(feet) {
		return fmt.Sprintf("1 in = %.0f ft (%s)", feet, ratio)
	}
	return ratio
}

// roundLength is the longest round length in meters, of 1, 2 or 5 and zeros in
// the unit system, that is not longer than most.
func roundLength(most float64, units string) float64 {
	unit := 1.0
	if units == "us" {
		unit = measure.Foot
	}
	return unit * roundDown(most/unit)
}

func roundDown(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, d := range []float64{5, 2} {
		if d*power <= v {
			return d * power
		}
	}
	return power
}

// around is the square round a place; half of its side in millimeters.
func around(p orb.Point, half float64) box { return box{p[0] - half, p[1] - half, 2 * half, 2 * half} }

func (b box) grown(by float64) box { return box{b.X - by, b.Y - by, b.W + 2*by, b.H + 2*by} }

func (b box) has(p orb.Point) bool {
	return p[0] >= b.X && p[0] <= b.X+b.W && p[1] >= b.Y && p[1] <= b.Y+b.H
}

func (b box) holds(o box) bool {
	return o.X >= b.X && o.Y >= b.Y && o.X+o.W <= b.X+b.W && o.Y+o.H <= b.Y+b.H
}

// canvas is a page of the PDF, or a drawing for the browser. Places are millimeters from the upper left corner of the page.
type canvas interface {
	Picture(jpeg []byte, at box)
	Stroke(path []orb.Point, p pen)
	Fill(rings []orb.Ring, color string, opacity float64) // even-odd
	Disc(p orb.Point, radius float64, color string)       // millimeters
	Text(at orb.Point, s string, w lettering)             // at is the left, middle or right of the base line
	Clip(b box)                                           // until Unclip
	Unclip()
}

// pen draws a line. Width and dash are points.
type pen struct {
	color string // "#RRGGBB"
	width float64
	dash  []float64
	round bool
}

// lettering is the look of a text.
type lettering struct {
	size  float64 // points
	bold  bool
	color string // "" = black
	back  string // box behind the text; "" = none
	edge  string // edge of that box
	align byte   // 'l', 'c' or 'r'; 0 = 'l'
}

const (
	point = 25.4 / 72 // millimeters
	black = "#000000"
	white = "#FFFFFF"
)

func rectangle(b box) []orb.Point {
	return []orb.Point{{b.X, b.Y}, {b.X + b.W, b.Y}, {b.X + b.W, b.Y + b.H}, {b.X, b.Y + b.H}, {b.X, b.Y}}
}

// cased draws a line over a broader one, so that it is visible on any ground.
func cased(c canvas, path []orb.Point, p pen, casing string, extra float64) {
	c.Stroke(path, pen{color: casing, width: p.width + extra, round: true})
	c.Stroke(path, p)
}

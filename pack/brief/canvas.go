package brief

import "github.com/paulmach/orb"

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

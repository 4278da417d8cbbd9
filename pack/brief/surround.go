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

// scaleBar is a bar of a round length with its length on paper, so that a print can
// be checked. at is its lower left corner.
func (v view) scaleBar(c canvas, units string, at orb.Point) {
	meters := roundLength(0.052*v.scale, units)
	long := meters / v.scale * 1000
	const parts, high = 4, 1.8
	for i := range parts {
		b := box{at[0] + long*float64(i)/parts, at[1] - high, long / parts, high}
		if i%2 == 0 {
			c.Fill([]orb.Ring{rectangle(b)}, black, 1)
		}
		c.Stroke(rectangle(b), pen{color: black, width: 0.6})
	}
	c.Text(orb.Point{at[0] - padding, at[1] - high - 1.2}, "0", lettering{size: 7.5})
	c.Text(orb.Point{at[0] + long/2, at[1] - high - 1.2}, measure.Distance(meters/2).In(units),
		lettering{size: 7.5, align: 'c'})
	c.Text(orb.Point{at[0] + long, at[1] - high - 1.2}, measure.Distance(meters).In(units),
		lettering{size: 7.5, align: 'c'})
	onPaper := strconv.FormatFloat(long, 'f', 1, 64) + " mm"
	if units == "us" {
		onPaper = strconv.FormatFloat(long/25.4, 'f', 2, 64) + " in"
	}
	for i, line := range strings.Split(words.Say("mapsheet.print", "long", onPaper,
		"scale", scaleWords(v.scale, units)), "\n") {
		c.Text(orb.Point{at[0] - padding, at[1] + 4 + 3.2*float64(i)}, line, lettering{size: 7})
	}
}

// north is an arrow to true north on paper, with an upright letter at its tip. turn
// is that of the view, middle that of both, and half is half of the arrow in
// millimeters.
func north(c canvas, middle orb.Point, half, turn float64) {
	way := northward(turn)
	at := func(along, right float64) orb.Point {
		along -= northLetter / 2
		return orb.Point{middle[0] + along*way[0] - right*way[1], middle[1] + along*way[1] + right*way[0]}
	}
	wide := half / 2
	tip, left, notch, right := at(half, 0), at(-half, -wide), at(-half*0.55, 0), at(-half, wide)
	c.Fill([]orb.Ring{{tip, left, notch, tip}}, black, 1)
	c.Stroke([]orb.Point{tip, right, notch, left, tip}, pen{color: black, width: 0.7})
	n := at(half+northLetter*0.6, 0)
	c.Text(orb.Point{n[0], n[1] + 1.2}, "N", lettering{size: 9, bold: true, align: 'c'})
}

// northLetter is the height of the letter, in millimeters.
const northLetter = 3.4

// northward is the direction of true north on the paper of a turned view: a quarter
// turn from east. Rows run down.
func northward(turn float64) orb.Point { return orb.Point{math.Sin(turn), -math.Cos(turn)} }

// gridStep is the distance of grid lines in degrees, and the decimals that
// write it: about four across the view.
func (v view) gridStep() (degrees float64, decimals int) {
	b := v.ground(0)
	step := roundDown(min(b.Right()-b.Left(), b.Top()-b.Bottom()) / 2.5)
	return step, max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

// half of a cross of the grid, in millimeters.
const crossArm = 2.0

// tickName is the name of a round degree at the edge of a map.
type tickName struct {
	from, to orb.Point // the tick
	at       orb.Point // the text
	text     string
	align    byte
}

// tickNames are the round longitudes along the top and latitudes along the left.
func (v view) tickNames() []tickName {
	step, decimals := v.gridStep()
	b := v.ground(0)
	var all []tickName
	for i := math.Ceil(b.Left() / step); i*step < b.Right(); i++ {
		x := v.toPaper(orb.Point{i * step, b.Top()})[0]
		if x-v.on.X > 12 && v.on.X+v.on.W-x > 12 {
			all = append(all, tickName{orb.Point{x, v.on.Y}, orb.Point{x, v.on.Y + 2}, orb.Point{x, v.on.Y + 4.6},
				degrees(i*step, decimals), 'c'})
		}
	}
	for j := math.Ceil(b.Bottom() / step); j*step < b.Top(); j++ {
		y := v.toPaper(orb.Point{b.Left(), j * step})[1]
		if y-v.on.Y > 8 && v.on.Y+v.on.H-y > 4 {
			all = append(all, tickName{orb.Point{v.on.X, y}, orb.Point{v.on.X + 2, y}, orb.Point{v.on.X + 2.2, y + 0.9},
				degrees(j*step, decimals), 'l'})
		}
	}
	return all
}

// crosses are the places of round degrees on paper, without those under the names.
func (v view) crosses() (all []orb.Point) {
	step, _ := v.gridStep()
	b := v.ground(0)
	for i := math.Ceil(b.Left() / step); i*step < b.Right(); i++ {
		for j := math.Ceil(b.Bottom() / step); j*step < b.Top(); j++ {
			at := v.toPaper(orb.Point{i * step, j * step})
			if at[0]-v.on.X < 16 || at[1]-v.on.Y < 8 {
				continue // the names are there
			}
			all = append(all, at)
		}
	}
	return all
}

// ticks are crosses at round degrees, named at the edges.
func (v view) ticks(c canvas) {
	for _, at := range v.crosses() {
		for _, arm := range [][]orb.Point{{{at[0] - crossArm, at[1]}, {at[0] + crossArm, at[1]}},
			{{at[0], at[1] - crossArm}, {at[0], at[1] + crossArm}}} {
			cased(c, arm, pen{color: black, width: 0.8}, white, 1)
		}
	}
	for _, n := range v.tickNames() {
		c.Stroke([]orb.Point{n.from, n.to}, pen{color: black, width: 0.8})
		c.Text(n.at, n.text, n.look())
	}
}

func (n tickName) look() lettering { return lettering{size: 6.5, back: white, align: n.align} }

func degrees(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) + "°" }

// overIndex draws the graticule and the detail sheets over it: the number of a sheet
// hides no cross where there is another place.
func (s sheet) overIndex(c canvas, r *labelPlacer) {
	for _, at := range s.crosses() {
		r.occupy(around(at, crossArm))
	}
	s.index(c, r)
}

// index shows the detail sheets on the overview: their outlines first, so that
// none runs through a number.
func (s sheet) index(c canvas, r *labelPlacer) {
	var all [][]orb.Point
	for _, v := range s.parts {
		var edge []orb.Point
		for _, corner := range rectangle(v.on) {
			edge = append(edge, s.toPaper(v.toGround(corner)))
		}
		sheetFrame(c, edge)
		all = append(all, edge)
	}
	s.ticks(c) // over the frames, which would cut their numbers
	for i, v := range s.parts {
		s.indexNumber(c, r, all[i], strconv.Itoa(v.number))
	}
}

// sheetFrame is the outline of a detail sheet.
func sheetFrame(c canvas, edge []orb.Point) {
	c.Stroke(edge, pen{color: white, width: 2.2})
	c.Stroke(edge, pen{color: black, width: 1})
}

// indexLegend explains the frames, on the sheet that has them.
func (s sheet) indexLegend() []legendEntry {
	if len(s.parts) == 0 {
		return nil
	}
	frame := func(c canvas, a, b orb.Point) { sheetFrame(c, rectangle(box{a[0], a[1] - 1.3, b[0] - a[0], 2.6})) }
	return []legendEntry{{frame, words.Say("brief.sheet_frame")}}
}

// indexSteps are places for a number in parts of a sheet's sides, from its middle.
var indexSteps = [][2]float64{{0, 0}, {0.15, 0}, {-0.15, 0}, {0, 0.15}, {0, -0.15}, {0.3, 0.3},
	{-0.3, 0.3}, {0.3, -0.3}, {-0.3, -0.3}}

// indexNumber writes the number of a sheet near its middle, where it hides no
// crossing and no other text; that of a sheet too small for it is beside it, at
// the end of a leader. edge runs from the upper left corner to the right.
func (s sheet) indexNumber(c canvas, r *labelPlacer, edge []orb.Point, number string) {
	look := lettering{size: 12, bold: true, color: white, back: black, edge: white, align: 'c'}
	right := orb.Point{edge[1][0] - edge[0][0], edge[1][1] - edge[0][1]}
	down := orb.Point{edge[2][0] - edge[1][0], edge[2][1] - edge[1][1]}
	middle := orb.Point{(edge[0][0] + edge[2][0]) / 2, (edge[0][1] + edge[2][1]) / 2}
	high := math.Hypot(down[0], down[1])
	if min(math.Hypot(right[0], right[1]), high) < smallSheet {
		look.size = 7
		s.besideSheet(c, r, middle, orb.Point{down[0] / high, down[1] / high}, high/2, number, look)
		return
	}
	at := orb.Point{middle[0], middle[1] + 1.5}
	for _, step := range indexSteps {
		p := orb.Point{middle[0] + step[0]*right[0] + step[1]*down[0], middle[1] + 1.5 + step[0]*right[1] + step[1]*down[1]}
		if b := r.fonts.textBox(p, number, look); r.free(b) {
			at = p
			break
		}
	}
	r.occupy(r.fonts.textBox(at, number, look))
	c.Text(at, number, look)
}

// smallSheet is the side, in millimeters on the overview, below which the number
// of a sheet would hide it.
const smallSheet = 12

// besideSheet writes a number off the side of a sheet, the nearest free place
// first.
func (s sheet) besideSheet(c canvas, r *labelPlacer, middle, down orb.Point, half float64, number string,
	look lettering) {
	for away := half + 3; away < half+25; away += 3 {
		for _, side := range []float64{-1, 1} {
			p := orb.Point{middle[0] + side*away*down[0], middle[1] + side*away*down[1]}
			at := orb.Point{p[0], p[1] + look.size*point*0.36}
			if !r.reserveText(at, number, look) {
				continue
			}
			cased(c, []orb.Point{middle, p}, pen{color: black, width: 0.6}, white, 1)
			c.Text(at, number, look)
			return
		}
	}
	c.Text(middle, number, look) // whatever it hides: a sheet without its number cannot be found
}

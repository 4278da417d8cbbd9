package brief

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/tiles/words"
)

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
var indexSteps = [][2]float64{{0, 0}, {0.15, 0}, {-0.15, 0}, {0, 0.15}, {0, -0.15}, {0.3, 0.3}, {-0.3, 0.3}, {0.3, -0.3}, {-0.3, -0.3}}

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
func (s sheet) besideSheet(c canvas, r *labelPlacer, middle, down orb.Point, half float64, number string, look lettering) {
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

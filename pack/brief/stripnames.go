package brief

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/words"
)

// name is a text that has its place.
type name struct {
	at   orb.Point
	text string
	look lettering
}

// namer places the names of a strip: no two on each other, none on a reading or a
// crossing, and none on a recorded line where that can be.
type namer struct {
	strip
	r, lines *room
	all      []name
}

// names gives match lines and stations their places, before what is recorded gets
// labels.
func (s strip) names(r *room, at site) []name {
	n := &namer{strip: s, r: r, lines: newRoom(r.paper, s.on)}
	at.keepOff(s.view, r, n.lines)
	units := at.about.Units
	k := 1000 / s.scale
	look := lettering{size: 7, bold: true, back: white, edge: black, align: 'l'}
	ends := []float64{(s.of.half+s.margin)*k - 3, s.of.half*k + 3, (s.of.half+s.margin)*k + 3}
	for _, station := range s.matches() { // within the strip, beside its match lines
		aside := 2.0
		if station == s.to {
			aside, look.align = -aside, 'r'
		}
		n.place(station, words.Say("brief.match_line", "station", stationText(station, units)), ends, aside, look)
	}
	named, _ := stationSteps(units, s.scale)
	look = lettering{size: 7, bold: true, back: white, align: 'c'}
	for _, station := range s.stations(named) {
		n.place(station, stationText(station, units), []float64{namedTick + 3, namedTick + 6}, 0, look)
	}
	return n.all
}

// place writes a text over a station, so many millimetres to the left or right of
// the course and aside on paper, at the first place that is free.
func (n *namer) place(station float64, text string, aways []float64, aside float64, look lettering) {
	for _, mind := range []bool{true, false} { // recorded lines
		for _, away := range aways {
			left, right := n.of.across(station, max(away, 1)*n.scale/1000)
			for _, p := range []orb.Point{n.paper(left), n.paper(right)} {
				p = orb.Point{p[0] + aside, p[1] + look.size*point*0.36}
				b := n.r.paper.around(p, text, look)
				if !n.r.on.holds(b) || !n.r.free(b) || mind && !n.lines.free(b) {
					continue
				}
				n.r.fill(b)
				n.all = append(n.all, name{p, text, look})
				return
			}
		}
	}
}

// keepOff takes the places of readings and crossings in one room, those of
// recorded lines in another.
func (s site) keepOff(v view, r, onLines *room) {
	near := v.ground(beyond)
	for _, o := range s.overlays {
		for _, f := range o.Features {
			for _, p := range places(f.Geometry) {
				if at := v.paper(p); v.shows(at) {
					r.fill(around(at, 1.5))
				}
			}
			for _, path := range lines(v, f.Geometry, near) {
				onLines.fillAlong(path)
			}
		}
	}
	for _, x := range s.known.Crossings {
		if at := v.paper(x.Place); v.shows(at) {
			r.fill(around(at, 2.4))
		}
	}
}

// fillAlong takes the room of a line, in squares of a little more than its width.
func (r *room) fillAlong(path []orb.Point) {
	const side = 1.4
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		n := math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1]) / side)
		for j := 0.0; j < n; j++ {
			x, y := a[0]+(b[0]-a[0])*j/n, a[1]+(b[1]-a[1])*j/n
			r.fill(around(orb.Point{x, y}, side/2))
		}
	}
}

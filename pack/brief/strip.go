package brief

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

func (s sheet) stripTitle() string {
	first, last := s.strips[0].number, s.strips[len(s.strips)-1].number
	switch last - first {
	case 0:
		return words.Say("mapsheet.strip", "n", first, "all", s.of)
	case 1:
		return words.Say("mapsheet.strips_two", "from", first, "to", last, "all", s.of)
	}
	return words.Say("mapsheet.strips", "from", first, "to", last, "all", s.of)
}

// drawStrips draws a page of strips and returns how many labels had no free place.
func (s sheet) drawStrips(c canvas, data packData, p *pdfCanvas) int {
	whole := newLabelPlacer(p, s.on)
	for i, one := range s.strips {
		c.Picture(s.bases[i].jpeg, one.on)
		r := one.draw(c, data, p)
		whole.hidden += r.hidden
		whole.covered += r.covered
		one.caption(c, data.about.Units)
	}
	s.head(c, data)
	s.surround(c, data, p, whole)
	return whole.hidden
}

// draw draws a strip over its picture.
func (s strip) draw(c canvas, data packData, p *pdfCanvas) *labelPlacer {
	r := newLabelPlacer(p, s.on)
	names := s.placeLabels(r, data)
	c.Clip(s.on)
	s.outlines(c, data)
	s.centerlines(c, data)
	s.ticks(c, data.about.Units)
	for _, station := range s.matches() { // no line runs through a depth
		s.matchLine(c, station)
	}
	data.drawRecords(c, s.view, r)
	for _, n := range names {
		c.Text(n.at, n.text, n.look)
	}
	c.Unclip()
	c.Stroke(rectangle(s.on), pen{color: black, width: 1})
	return r
}

// matches are the stations of the strip's match lines.
func (s strip) matches() (all []float64) {
	if s.before > 0 {
		all = append(all, s.from)
	}
	if s.after > 0 {
		all = append(all, s.to)
	}
	return all
}

var (
	chain    = pen{black, 0.8, []float64{12, 3, 2, 3}, false}
	matching = pen{black, 1.4, []float64{7, 3}, false}
)

// matchLine is where the strip before or after continues: the same line on the
// ground on both.
func (s strip) matchLine(c canvas, station float64) {
	left, right := s.of.across(station, s.of.half+s.margin)
	cased(c, []orb.Point{s.toPaper(left), s.toPaper(right)}, matching, white, 1.6)
}

// centerlines are the routes.
func (v view) centerlines(c canvas, data packData) {
	near := v.ground(5)
	for _, one := range data.routes {
		for _, path := range lines(v, one.line, near) {
			cased(c, path, chain, white, 1)
		}
	}
}

// stationSteps are round distances between named stations, meters, and between
// ticks. Common practice, no source: a hundred feet, or twenty meters.
func stationSteps(units string, scale float64) (named, tick float64) {
	unit, all, parts := 1.0, []float64{20, 50, 100, 200, 500, 1000}, 2.0
	if units == "us" {
		unit, all, parts = measure.Foot, []float64{100, 200, 500, 1000, 2000, 5000}, 4.0
	}
	for _, n := range all {
		if named = n * unit; named*1000/scale >= 20 { // millimeters apart
			break
		}
	}
	return named, named / parts
}

// Half of a tick over the centerline, in millimeters.
const (
	namedTick = 2.4
	smallTick = 1.2
)

// stations are those of the strip, and of what it shows of its neighbors.
func (s strip) stations(step float64) (all []float64) {
	around := s.on.W * s.scale / 1000
	for n := math.Ceil(max(s.from-around, 0)/step - 1e-9); n*step <= min(s.to+around, s.of.length()); n++ {
		if at := s.toPaper(s.of.placeAt(n * step)); s.shows(at) {
			all = append(all, n*step)
		}
	}
	return all
}

func (s strip) ticks(c canvas, units string) {
	named, small := stationSteps(units, s.scale)
	for _, one := range []struct{ step, half float64 }{{small, smallTick}, {named, namedTick}} {
		for _, station := range s.stations(one.step) {
			left, right := s.of.across(station, one.half*s.scale/1000)
			cased(c, []orb.Point{s.toPaper(left), s.toPaper(right)}, pen{color: black, width: 0.8}, white, 1)
		}
	}
}

// caption is the band above a strip: what it is, what continues at its ends, where these
// are, and north.
func (s strip) caption(c canvas, units string) {
	from, to := stationText(s.from, units), stationText(s.to, units)
	title := words.Say("brief.strip", "number", s.number, "from", from, "to", to)
	if s.route > 0 {
		title = words.Say("brief.strip_route", "number", s.number, "route", s.route, "from", from, "to", to)
	}
	begins, ends := words.Say("brief.strip_begins", "station", from), words.Say("brief.strip_ends", "station", to)
	if s.before > 0 {
		begins = words.Say("brief.strip_before", "number", s.before, "station", from)
	}
	if s.after > 0 {
		ends = words.Say("brief.strip_after", "number", s.after, "station", to)
	}
	upper, lower := s.on.Y-5.6, s.on.Y-1.6
	left, right := s.on.X, s.on.X+s.on.W-1
	c.Text(orb.Point{left - padding, upper}, begins, lettering{size: 9, bold: true})
	c.Text(orb.Point{left + s.on.W/2, upper}, title, lettering{size: 10, bold: true, align: 'c'})
	c.Text(orb.Point{right, upper}, ends, lettering{size: 9, bold: true, align: 'r'})
	c.Text(orb.Point{left - padding, lower}, s.where(s.from), lettering{size: 7})
	c.Text(orb.Point{right, lower}, s.where(s.to), lettering{size: 7, align: 'r'})
	north(c, orb.Point{left + s.on.W*0.72, s.on.Y - band/2}, 3, s.turn)
}

func (s strip) where(station float64) string {
	return placeWords(s.of.placeAt(station), 6)
}

// placedText is a text with its place.
type placedText struct {
	at   orb.Point
	text string
	look lettering
}

// stripLabeler places the names of a strip: no two on each other, none on a reading or a
// crossing, and none on a recorded line where that can be.
type stripLabeler struct {
	strip
	r, lines *labelPlacer
	all      []placedText
}

// placeLabels gives match lines and stations their places, before what is recorded gets
// labels.
func (s strip) placeLabels(r *labelPlacer, data packData) []placedText {
	n := &stripLabeler{strip: s, r: r, lines: newLabelPlacer(r.fonts, s.on)}
	data.occupyRecords(s.view, r, n.lines)
	units := data.about.Units
	k := 1000 / s.scale
	look := lettering{size: 7, bold: true, back: white, edge: black, align: 'l'}
	ends := []float64{(s.of.half+s.margin)*k - 3, s.of.half*k + 3, (s.of.half+s.margin)*k + 3}
	for _, station := range s.matches() { // within the strip, beside its match lines
		aside := 2.0
		if station == s.to {
			aside, look.align = -aside, 'r'
		}
		n.placeLabel(station, words.Say("brief.match_line", "station", stationText(station, units)), ends, aside, look)
	}
	named, _ := stationSteps(units, s.scale)
	look = lettering{size: 7, bold: true, back: white, align: 'c'}
	for _, station := range s.stations(named) {
		n.placeLabel(station, stationText(station, units), []float64{namedTick + 3, namedTick + 6}, 0, look)
	}
	return n.all
}

// placeLabel writes a text over a station, so many millimeters to the left or right of
// the course and aside on paper, at the first place that is free.
func (n *stripLabeler) placeLabel(station float64, text string, aways []float64, aside float64, look lettering) {
	for _, mind := range []bool{true, false} { // recorded lines
		for _, away := range aways {
			left, right := n.of.across(station, max(away, 1)*n.scale/1000)
			for _, p := range []orb.Point{n.toPaper(left), n.toPaper(right)} {
				p = orb.Point{p[0] + aside, p[1] + look.size*point*0.36}
				b := n.r.fonts.textBox(p, text, look)
				if !n.r.on.holds(b) || !n.r.free(b) || mind && !n.lines.free(b) {
					continue
				}
				n.r.occupy(b)
				n.all = append(n.all, placedText{p, text, look})
				return
			}
		}
	}
}

// occupyRecords marks the places of readings and crossings as occupied, those of
// recorded lines in another.
func (s packData) occupyRecords(v view, r, onLines *labelPlacer) {
	near := v.ground(beyond)
	for _, o := range s.overlays {
		for _, f := range o.Features {
			for _, p := range places(f.Geometry) {
				if at := v.toPaper(p); v.shows(at) {
					r.occupy(around(at, 1.5))
				}
			}
			for _, path := range lines(v, f.Geometry, near) {
				onLines.fillAlong(path)
			}
		}
	}
	for _, x := range s.derived.Crossings {
		if at := v.toPaper(x.Place); v.shows(at) {
			r.occupy(around(at, 2.4))
		}
	}
}

// fillAlong occupies a line, in squares of a little more than its width.
func (r *labelPlacer) fillAlong(path []orb.Point) {
	const side = 1.4
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		n := math.Ceil(math.Hypot(b[0]-a[0], b[1]-a[1]) / side)
		for j := 0.0; j < n; j++ {
			x, y := a[0]+(b[0]-a[0])*j/n, a[1]+(b[1]-a[1])*j/n
			r.occupy(around(orb.Point{x, y}, side/2))
		}
	}
}

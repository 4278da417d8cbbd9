package brief

import (
	"fmt"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// layout is what is on which map page.
type layout struct {
	overview view
	plan     stripPlan // along routes
	plain    []view    // with north up, where no route runs
	asked    bool      // the scale was asked for
}

// count is how many strips and sheets there are.
func (l layout) count() int { return len(l.plan.strips) + len(l.plain) }

func (l layout) scale() float64 {
	if len(l.plan.strips) > 0 {
		return l.plan.scale
	}
	return l.plain[0].scale
}

// sheets are the map pages.
func (l layout) sheets(wide box) []sheet {
	parts := make([]view, 0, l.count())
	for _, one := range l.plan.strips {
		parts = append(parts, one.view)
	}
	parts = append(parts, l.plain...)
	all := []sheet{{view: l.overview, of: l.count(), parts: parts}}
	for i := 0; i < len(l.plan.strips); i += l.plan.rows {
		some := l.plan.strips[i:min(i+l.plan.rows, len(l.plan.strips))]
		page := some[0].view
		page.on = wide
		all = append(all, sheet{view: page, of: l.count(), strips: some})
	}
	for _, v := range l.plain {
		all = append(all, sheet{view: v, of: l.count()})
	}
	return all
}

// layOut gives the overview and the detail sheets; on is the map of an upright
// page, wide that of a page on its side.
func layOut(s packData, on, wide box, scale float64) (layout, error) {
	whole := s.margin.Bound()
	l := layout{overview: newView(0, whole.Center(), fitScale(whole, s.about.Units, on), on), asked: scale != 0}
	outline := s.margin
	var err error
	if l.plan, err = s.strips(scale, wide); err != nil {
		return l, err
	}
	if len(l.plan.strips) > 0 {
		if outline = s.offRoute; len(outline) == 0 {
			return l, nil
		}
	}
	chosen := scale
	if scale == 0 {
		chosen = chooseScale(outline, s.about.Units, on)
	}
	l.plain = grid(outline, chosen, on, mostSheets)
	if len(l.plain) > mostSheets {
		return l, &fault.Fault{
			Kind:   Misuse,
			Detail: fmt.Sprintf("at scale %s the job takes more than %d sheets", scaleWords(chosen, s.about.Units), mostSheets),
			Remedy: fmt.Sprintf("leave the scale out, or use 1:%.0f", chooseScale(outline, s.about.Units, on)),
		}
	}
	if len(l.plain) == 0 {
		return l, broken(s.pack, "its area", fmt.Errorf("no sheet shows any of it"))
	}
	for i := range l.plain {
		l.plain[i].number += len(l.plan.strips)
	}
	return l, nil
}

// Layout of a map page, in millimeters.
const (
	edge       = 10.0 // of the paper that stays white
	headRoom   = 12.0
	legendRoom = 47.0
)

// mapBox is the place of the map on a page.
func mapBox(w, h float64) box {
	return box{edge, edge + headRoom, w - 2*edge, h - 2*edge - headRoom - legendRoom}
}

// sheet is one map page, ready to draw on any canvas.
type sheet struct {
	view
	of     int // sheets
	base   basePicture
	parts  []view  // the sheets that the overview shows
	strips []strip // that the page shows; then view is the rectangle of all of them
	bases  []basePicture
}

func (s sheet) title() string {
	if s.number == 0 {
		return words.Say("mapsheet.overview")
	}
	if len(s.strips) > 0 {
		return s.stripTitle()
	}
	return words.Say("mapsheet.sheet", "n", s.number, "all", s.of)
}

// draw draws the whole page and returns how many labels had no free place.
func (s sheet) draw(c canvas, data packData, p *pdfCanvas) int {
	if len(s.strips) > 0 {
		return s.drawStrips(c, data, p)
	}
	c.Picture(s.base.jpeg, s.on)
	r := newLabelPlacer(p, s.on)
	for _, n := range s.tickNames() {
		r.occupy(p.textBox(n.at, n.text, n.look()))
	}
	c.Clip(s.on)
	s.outlines(c, data)
	s.centerlines(c, data)
	data.drawLooked(c, s.view, r)
	if s.number > 0 {
		data.drawRecords(c, s.view, r)
	} else {
		lettered := data.drawPlainRecords(c, s.view, r)
		s.overIndex(c, r)
		for _, f := range lettered {
			f()
		}
	}
	c.Unclip()
	if s.number > 0 {
		s.ticks(c)
	}
	c.Stroke(rectangle(s.on), pen{color: black, width: 1})
	s.head(c, data)
	s.surround(c, data, p, r)
	return r.hidden
}

// outlines are the dig area and, broken, the margin round it.
func (v view) outlines(c canvas, data packData) {
	near := v.ground(5)
	for _, part := range []struct {
		shape orb.MultiPolygon
		pen   pen
	}{{data.margin, pen{white, 0.9, []float64{6, 4}, false}}, {data.area, pen{color: white, width: 2}}} {
		for _, p := range part.shape {
			for _, ring := range p {
				for _, path := range lines(v, orb.LineString(ring), near) {
					cased(c, path, part.pen, black, 1.6)
				}
			}
		}
	}
}

func (s sheet) head(c canvas, data packData) {
	y := edge + 4.5
	c.Text(orb.Point{edge, y}, sanitize(data.about.Name, 50), lettering{size: 12, bold: true})
	c.Text(orb.Point{s.on.X + s.on.W - 1, y}, s.title()+" · "+scaleWords(s.scale, data.about.Units),
		lettering{size: 11, bold: true, align: 'r'})
	c.Text(orb.Point{edge, y + 4.8}, data.identity(60), lettering{size: 8})
	more := words.Say("mapsheet.center", "place", placeWords(s.middle, 5))
	if len(s.strips) > 0 {
		more = words.Say("brief.strip_head", "step", data.stationStep())
	}
	c.Text(orb.Point{s.on.X + s.on.W - 1, y + 4.8}, more, lettering{size: 8, align: 'r'})
}

// surround draws the scale bar, north, the legend, the attribution of the base map,
// and the first caution.
func (s sheet) surround(c canvas, data packData, p *pdfCanvas, r *labelPlacer) {
	y := s.on.Y + s.on.H
	s.scaleBar(c, data.about.Units, orb.Point{s.on.X, y + 11})
	if len(s.strips) == 0 { // a strip has its own
		c.Text(orb.Point{s.on.X - padding, y + 24.6}, words.Say("mapsheet.grid"), lettering{size: 7})
		north(c, orb.Point{s.on.X + 62, y + 11.5}, 4.5, 0)
	}
	data.legend(c, p, legendBox(s.on), s.indexLegend()...)
	a := data.about
	from := words.Say("mapsheet.base", "attribution", stated(a.Source.Attribution), "when", unknown(a.Source.Captured),
		"zoom", s.base.zoom, "size", data.in(resolution(s.view, s.base.zoom, a.TileSize)))
	if len(a.Source.Drawn) > 0 {
		from = words.Say("drawn.base", "attribution", stated(a.Source.Attribution), "files", sanitize(a.Source.Files(), cellText))
	}
	bottom := y + 38.5
	for _, line := range wrap(p, from, 6.5, false, s.on.W, 2) {
		c.Text(orb.Point{s.on.X, bottom}, line, lettering{size: 6.5})
		bottom += 2.9
	}
	note := data.cautions()[0]
	if n := s.omissions(r); n != "" {
		for i, line := range wrap(p, n, 7, true, 66, 3) { // beside the legend, below the scale bar
			c.Text(orb.Point{s.on.X - padding, y + 28.8 + 2.9*float64(i)}, line, lettering{size: 7, bold: true})
		}
	}
	c.Text(orb.Point{s.on.X, y + 46}, note, lettering{size: 8.5, bold: true})
}

// omissions says what this sheet does not show.
func (s sheet) omissions(r *labelPlacer) string {
	text := ""
	if r.hidden > 0 {
		text = words.Say("brief.no_room", "n", r.hidden) + ". "
	}
	add := func(n int, say string) {
		if n > 0 {
			text += say + ". "
		}
	}
	if s.number > 0 {
		add(r.covered, words.Say("mapsheet.under", "n", r.covered))
	}
	add(s.base.unread, words.Say("mapsheet.unread", "n", s.base.unread))
	add(s.base.blank, words.Say("mapsheet.blank", "n", s.base.blank))
	add(s.base.enlarged, words.Say("mapsheet.enlarged", "n", s.base.enlarged))
	return text
}

// placeWords is a place in degrees, with so many decimals.
func placeWords(p orb.Point, decimals int) string {
	in := func(v float64) string { return strconv.FormatFloat(v, 'f', decimals, 64) }
	return words.Say("mapsheet.place", "lat", in(p.Lat()), "lon", in(p.Lon()))
}

// wrap breaks a text into at most so many lines of a width; what is left over
// ends in "…".
func wrap(p *pdfCanvas, text string, size float64, bold bool, width float64, most int) []string {
	p.font(size, bold)
	all := p.pdf.SplitText(printable(text), width)
	if len(all) > most {
		all = all[:most]
		all[most-1] += "…"
	}
	return all
}

package brief

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/plainmap"
	"groundsheet/tiles/source"
	"groundsheet/tiles/words"
)

// bare is ground without a picture, as it is after lightening.
const bare = "#E5E5E5"

// sample draws the sample of a legend entry from a to b, level.
type sample func(c canvas, a, b orb.Point)

// legendEntry is one line of the legend.
type legendEntry struct {
	draw sample
	text string
}

func strokeSample(p pen, casing string, extra float64) sample {
	return func(c canvas, a, b orb.Point) { cased(c, []orb.Point{a, b}, p, casing, extra) }
}

func lineSample(style record.Symbology, more sample) sample {
	return func(c canvas, a, b orb.Point) {
		drawLine(c, []orb.Point{a, b}, style, lineWidth, caseExtra)
		more(c, a, b)
	}
}

// boxSample is a rectangle; without a fill it is its edge alone.
func boxSample(fill string, opacity float64, edge pen) sample {
	return func(c canvas, a, b orb.Point) {
		r := rectangle(box{a[0], a[1] - 1.3, b[0] - a[0], 2.6})
		if fill != "" {
			c.Fill([]orb.Ring{r}, fill, opacity)
		}
		c.Stroke(r, edge)
	}
}

func markSample(draw func(c canvas, middle orb.Point)) sample {
	return func(c canvas, a, b orb.Point) { draw(c, orb.Point{(a[0] + b[0]) / 2, a[1]}) }
}

func (s packData) legendEntries() (all []legendEntry) {
	add := func(draw sample, text string) { all = append(all, legendEntry{draw, text}) }
	for _, st := range s.derived.Statistics {
		style := record.SymbologyOf(st.Utility, "A")
		add(lineSample(style, func(c canvas, a, _ orb.Point) { drawLetter(c, orb.Point{a[0] + 2.2, a[1]}, style, style.Letter) }), st.Utility)
	}
	if i := slices.IndexFunc(s.derived.Lines, func(l derive.Line) bool { return l.Basis != "record" }); i >= 0 {
		style := record.SymbologyOf(s.derived.Lines[i].Utility, "")
		add(func(c canvas, a, b orb.Point) { drawGuess(c, []orb.Point{a, b}, style) }, words.Say("brief.guess"))
	}
	for _, l := range []struct{ level, text string }{
		{"A", words.Say("mapsheet.level_a")}, {"B", words.Say("mapsheet.level_b")}, {"C", words.Say("mapsheet.level_c")},
		{"D", words.Say("mapsheet.level_d")}, {"", words.Say("mapsheet.level_none")},
	} {
		style := record.SymbologyOf("", l.level)
		add(func(c canvas, a, b orb.Point) {
			c.Stroke([]orb.Point{a, b}, pen{black, lineWidth, style.Dash, style.Round})
		}, l.text)
	}
	all = append(all, s.stateLegend()...)
	add(strokeSample(pen{color: white, width: 2}, black, 1.6), words.Say("mapsheet.dig_area"))
	add(strokeSample(pen{white, 0.9, []float64{6, 4}, false}, black, 1.6), words.Say("mapsheet.margin"))
	add(s.readingSample(), words.Say("mapsheet.reading"))
	add(markSample(func(c canvas, at orb.Point) { c.Stroke(circle(at, 1.6), pen{color: black, width: 1}) }),
		words.Say("mapsheet.crossing"))
	if slices.ContainsFunc(s.overlays, func(o record.Overlay) bool { return o.TestHoles() > 0 }) {
		add(markSample(func(c canvas, at orb.Point) { drawTestHole(c, at, record.SymbologyOf("survey", ""), holeHalf) }),
			words.Say("legend.test_hole"))
	}
	if len(s.about.Source.Drawn) == 0 {
		add(boxSample(bare, 1, pen{color: black, width: 0.4}), words.Say("brief.bare"))
	}
	if len(s.derived.Zones) > 0 {
		add(boxSample("#888888", 0.25, pen{black, 0.5, []float64{4, 2}, false}), words.Say("mapsheet.zone"))
		add(boxSample("", 0, pen{black, 0.5, []float64{0.8, 2.4}, false}), words.Say("mapsheet.zone_doubt"))
	}
	if len(s.looked) > 0 {
		add(strokeSample(lookedPen, white, 1), words.Say("mapsheet.looked"))
	}
	if len(s.routes) > 0 {
		add(strokeSample(chain, white, 1), words.Say("brief.centerline"))
		add(strokeSample(matching, white, 1), words.Say("brief.matched"))
	}
	return append(all, s.drawnLegend()...)
}

// readingSample is a dot in the color of each utility of which something was read.
func (s packData) readingSample() sample {
	var read []string
	for p := range s.measurements() {
		if !p.testHole && !slices.Contains(read, p.Kind.Code) {
			read = append(read, p.Kind.Code)
		}
	}
	if len(read) == 0 {
		read = []string{"survey"}
	}
	return func(c canvas, a, b orb.Point) {
		step := (b[0] - a[0]) / float64(len(read)+1)
		for i, code := range read {
			drawReading(c, orb.Point{a[0] + step*float64(i+1), a[1]}, record.SymbologyOf(code, ""))
		}
	}
}

// drawnLegend is what a drawn base shows, in the tones of print.
func (s packData) drawnLegend() (all []legendEntry) {
	for _, d := range s.about.Source.Legend() {
		look := plainmap.LookOf(d.Role)
		edge, fill := lightened(cmp.Or(look.Edge, look.Fill, look.Ink)), lightened(cmp.Or(look.Fill, plainmap.Paper))
		draw := boxSample(fill, 1, pen{color: edge, width: 0.6})
		switch d.Role {
		case source.RoleStreet, source.RoleMainStreet, source.RoleRail:
			draw = strokeSample(pen{color: fill, width: 2}, edge, 1.2)
		case source.RolePath, source.RoleBoundary:
			draw = strokeSample(pen{edge, 0.9, []float64{3, 3}, false}, white, 1)
		case source.RoleAddress:
			draw = markSample(func(c canvas, at orb.Point) {
				c.Text(orb.Point{at[0] - 1.5, at[1] + 0.8}, "12", lettering{size: 6})
			})
		case source.RolePlace:
			draw = markSample(func(c canvas, at orb.Point) {
				c.Text(orb.Point{at[0] - 1.5, at[1] + 0.8}, "Abc", lettering{size: 6})
			})
		}
		all = append(all, legendEntry{draw, words.Say("drawn.legend", "what", d.Words())})
	}
	return all
}

// stateLegend has the states that have a symbol and occur in the records.
func (s packData) stateLegend() (all []legendEntry) {
	style := record.SymbologyOf("water", "A")
	style.Color, style.Casing = black, white
	for _, look := range record.StateSymbologies() {
		if slices.ContainsFunc(s.derived.Lines, func(l derive.Line) bool { return l.State == look.State }) {
			draw := lineSample(style, func(c canvas, a, b orb.Point) { drawState(c, []orb.Point{a, b}, style, look, lineWidth) })
			all = append(all, legendEntry{draw, stateText(look.State)})
		}
	}
	return all
}

func stateText(s record.State) string {
	switch s {
	case record.Abandoned:
		return words.Say("legend.abandoned")
	case record.OutOfService:
		return words.Say("legend.out_of_service")
	}
	return words.Say("legend.proposed")
}

// legendBox is the place of the legend below a map.
func legendBox(on box) box { return box{on.X + 72, on.Y + on.H + 5, on.W - 72, 31} }

const legendColumns = 3

// sampleLength is how long a line of the legend is drawn, in millimeters.
const sampleLength = 10.0

// legend writes the entries in columns; more are those of this sheet alone.
func (s packData) legend(c canvas, p *pdfCanvas, b box, more ...legendEntry) {
	all := append(s.legendEntries(), more...)
	rows := (len(all) + legendColumns - 1) / legendColumns
	high, wide := b.H/float64(max(rows, 6)), b.W/legendColumns
	for i, e := range all {
		x, y := b.X+float64(i/rows)*wide, b.Y+float64(i%rows)*high
		e.draw(c, orb.Point{x, y}, orb.Point{x + sampleLength, y})
		for _, line := range wrap(p, e.text, 6, false, wide-sampleLength-2.5, 1) {
			c.Text(orb.Point{x + sampleLength + 1.5, y + 0.8}, line, lettering{size: 6})
		}
	}
}

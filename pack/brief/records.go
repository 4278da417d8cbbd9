package brief

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// drawRecords draws what is recorded: zones first, then faces, lines and readings,
// then letters, crossings and depths, so that no line runs through a text.
func (s packData) drawRecords(c canvas, v view, r *labelPlacer) {
	near := v.ground(5)
	s.drawZones(c, v, near)
	letters := append(s.drawShapes(c, v, near, r, drawFace, lineWidth, caseExtra), s.drawJoinedLines(c, v, near, r)...)
	depths := append(s.drawPoints(c, v, near, r, false), s.drawPoints(c, v, near, r, true)...)
	run(letters)
	s.drawCrossings(c, v, near, r)
	run(depths)
}

func run(all []func()) {
	for _, f := range all {
		f()
	}
}

// drawShapes draws the lines and faces of all records, lines with a width and a
// casing in points; without a way to draw faces their edges are drawn as lines.
// What writes letters along the lines is returned: it comes last.
func (s packData) drawShapes(c canvas, v view, near orb.Bound, r *labelPlacer,
	face func(canvas, []orb.Ring, record.Symbology), width, extra float64) (letters []func()) {
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if !f.Geometry.Bound().Intersects(near) {
				continue
			}
			style, look := record.SymbologyOf(o.Kind.Code, o.LevelOf(f.Properties)), stateSymbology(o, f.Properties)
			paths := lines(v, f.Geometry, near)
			for _, p := range pack.Polygons(f.Geometry) {
				edges := rings(v, clip.Polygon(near, p.Clone()))
				if face != nil {
					face(c, edges, style)
				}
				for _, ring := range edges {
					if face == nil {
						paths = append(paths, ring)
					} else {
						drawState(c, ring, style, look, width)
					}
				}
			}
			for _, path := range paths {
				drawLine(c, path, style, width, extra)
				drawState(c, path, style, look, width)
				letters = append(letters, s.writeAlong(c, v, path, style, look, r)...)
			}
		}
	}
	return letters
}

func (s packData) letter(c canvas, at orb.Point, style record.Symbology, r *labelPlacer) {
	if r.reserve(at, 2.2) {
		drawLetter(c, at, style, style.Letter)
	}
}

// drawJoinedLines draws the lines through readings, which are in no record: where
// they run between the readings is not recorded, so they are thin and dotted. What
// writes their letters is returned.
func (s packData) drawJoinedLines(c canvas, v view, near orb.Bound, r *labelPlacer) (letters []func()) {
	for _, l := range s.derived.Lines {
		if l.Basis == "record" {
			continue
		}
		style, look := record.SymbologyOf(l.Utility, l.QualityLevel), record.StateSymbologyOf(l.State)
		for _, path := range lines(v, l.Path, near) {
			drawGuess(c, path, style)
			drawState(c, path, style, look, 1)
			letters = append(letters, s.writeAlong(c, v, path, style, look, r)...)
		}
	}
	return letters
}

func drawGuess(c canvas, path []orb.Point, style record.Symbology) {
	cased(c, path, pen{style.Color, 1, []float64{1, 3}, false}, style.Casing, 1)
}

func rings(v view, p orb.Polygon) []orb.Ring {
	all := make([]orb.Ring, 0, len(p))
	for _, ring := range p {
		all = append(all, allToPaper(v, ring))
	}
	return all
}

// allToPaper puts places on paper.
func allToPaper[L ~[]orb.Point](v view, places L) L {
	out := make(L, len(places))
	for i, at := range places {
		out[i] = v.toPaper(at)
	}
	return out
}

func lines(v view, g orb.Geometry, near orb.Bound) [][]orb.Point {
	var all [][]orb.Point
	for part := range geojson.Parts(g) {
		l, ok := part.(orb.LineString)
		if !ok {
			continue
		}
		for _, piece := range clip.LineString(near, l.Clone()) {
			all = append(all, v.clipped(allToPaper(v, piece))...)
		}
	}
	return all
}

// drawZones shows where hand digging starts by the job's rule, and round it the
// record's own doubt.
func (s packData) drawZones(c canvas, v view, near orb.Bound) {
	for _, z := range s.derived.Zones {
		color := record.SymbologyOf(z.Utility, "").Color
		for _, part := range []struct {
			shape   orb.MultiPolygon
			opacity float64
			dash    []float64
		}{{z.Uncertain, 0, []float64{0.8, 2.4}}, {z.Shape, 0.18, []float64{4, 2}}} {
			for _, p := range part.shape {
				if !p.Bound().Intersects(near) {
					continue
				}
				all := rings(v, p)
				if part.opacity > 0 {
					c.Fill(all, color, part.opacity)
				}
				for _, ring := range all {
					cased(c, ring, pen{black, 0.5, part.dash, false}, white, 0.6)
				}
			}
		}
	}
}

// drawPoints draws the readings or the test holes, and returns what writes their
// depths.
func (s packData) drawPoints(c canvas, v view, near orb.Bound, r *labelPlacer, testHoles bool) (later []func()) {
	for p := range s.measurements() {
		if p.testHole != testHoles || !near.Contains(p.place) {
			continue
		}
		at, style := v.toPaper(p.place), p.style()
		if testHoles {
			drawTestHole(c, at, style, holeHalf)
			r.occupy(around(at, 2))
		} else if v.isNear(at) && r.ownDot(at, style) {
			drawReading(c, at, style)
			r.occupy(around(at, 1.5))
		} else {
			continue
		}
		if m := p.depth(); m != nil && v.shows(at) {
			text := style.Letter + " " + depthText(m, s.about.Units)
			later = append(later, func() { r.label(c, at, text, lettering{size: 7, bold: true, back: white, edge: black}) })
		}
	}
	return later
}

// depthText is a depth as people say it; nil is "unknown".
func depthText(m *float64, units string) string {
	switch {
	case m == nil || math.IsNaN(*m):
		return words.Say("paper.unknown")
	case units == "us":
		return measure.Distance(*m).FeetInches()
	}
	return strconv.FormatFloat(*m, 'f', 2, 64) + " m"
}

// drawCrossings marks each with its number in the table.
func (s packData) drawCrossings(c canvas, v view, near orb.Bound, r *labelPlacer) {
	for i, x := range s.crossings() {
		at := v.toPaper(x.Place)
		if !near.Contains(x.Place) || !v.isNear(at) {
			continue
		}
		cased(c, circle(at, 2.4), pen{color: black, width: 1}, white, 1.4)
		r.occupy(around(at, 2.4))
		if v.shows(at) {
			r.label(c, at, "X"+strconv.Itoa(i+1), lettering{size: 7, bold: true, color: white, back: black, edge: white})
		}
	}
}

// drawPlainRecords draws lines and readings small, for the overview. What writes
// the letters of the lines is returned: they come last.
func (s packData) drawPlainRecords(c canvas, v view, r *labelPlacer) (letters []func()) {
	near := v.ground(5)
	letters = append(s.drawJoinedLines(c, v, near, r), s.drawShapes(c, v, near, r, nil, 1.5, 1.4)...)
	for p := range s.measurements() {
		switch at := v.toPaper(p.place); {
		case !near.Contains(p.place):
		case p.testHole:
			drawTestHole(c, at, p.style(), holeHalfSmall)
		case r.ownDot(at, p.style()):
			c.Disc(at, 0.8, black)
			c.Disc(at, 0.55, p.style().Color)
			if m := p.depth(); s.finds && m != nil && v.shows(at) { // the sheet of each has it in any case
				r.occupy(around(at, 0.8))
				text := p.style().Letter + " " + depthText(m, s.about.Units)
				letters = append(letters, func() { r.labelIfFree(c, at, text, lettering{size: 6, bold: true, back: white, edge: black}) })
			}
		}
	}
	for _, x := range s.derived.Crossings { // no text covers one
		if near.Contains(x.Place) {
			r.occupy(around(v.toPaper(x.Place), 1.5))
		}
	}
	return letters
}

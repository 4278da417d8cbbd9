package brief

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// drawRecords draws what is recorded: zones first, then faces, lines and readings,
// then letters, crossings and depths, so that no line runs through a text.
func (s site) drawRecords(c canvas, v view, r *room) {
	near := v.ground(5)
	s.drawZones(c, v, near)
	var written []func()
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if !f.Geometry.Bound().Intersects(near) {
				continue
			}
			style, look := record.SymbologyOf(o.Kind.Code, levelOf(o, f.Properties)), lookOf(o, f.Properties)
			for _, p := range pack.Polygons(f.Geometry) {
				face := rings(v, clip.Polygon(near, p.Clone()))
				drawFace(c, face, style)
				for _, ring := range face {
					drawState(c, ring, style, look, lineWidth)
				}
			}
			for _, path := range lines(v, f.Geometry, near) {
				drawLine(c, path, style)
				drawState(c, path, style, look, lineWidth)
				written = append(written, s.writeAlong(c, v, path, style, look, r)...)
			}
		}
	}
	for _, l := range s.known.Lines { // those through readings are in no record
		if l.Basis != "record" {
			written = append(written, s.drawJoined(c, v, l, near, r)...)
		}
	}
	depths := append(s.drawReadings(c, v, near, r), s.drawTestHoles(c, v, near, r)...)
	for _, f := range written {
		f()
	}
	s.drawCrossings(c, v, near, r)
	for _, f := range depths {
		f()
	}
}

// levelOf is a feature's own quality level, else its record's.
func levelOf(o record.Overlay, properties map[string]any) string {
	if own, ok := properties["quality_level"].(string); ok && own != "" {
		return own
	}
	return o.QualityLevel
}

func (s site) letter(c canvas, at orb.Point, style record.Symbology, r *room) {
	if r.take(at, 2.2) {
		drawLetter(c, at, style, style.Letter)
	}
}

// drawJoined is a line through readings: nobody recorded where it runs between
// them, so it is thin and dotted. What draws its letters is given back.
func (s site) drawJoined(c canvas, v view, l derive.Line, near orb.Bound, r *room) (lettered []func()) {
	style, look := record.SymbologyOf(l.Utility, l.QualityLevel), record.StateSymbologyOf(l.State)
	for _, path := range lines(v, l.Path, near) {
		drawGuess(c, path, style)
		drawState(c, path, style, look, 1)
		lettered = append(lettered, s.writeAlong(c, v, path, style, look, r)...)
	}
	return lettered
}

func drawGuess(c canvas, path []orb.Point, style record.Symbology) {
	cased(c, path, pen{style.Colour, 1, []float64{1, 3}, false}, style.Casing, 1)
}

func rings(v view, p orb.Polygon) []orb.Ring {
	all := make([]orb.Ring, 0, len(p))
	for _, ring := range p {
		out := make(orb.Ring, len(ring))
		for i, at := range ring {
			out[i] = v.paper(at)
		}
		all = append(all, out)
	}
	return all
}

func lines(v view, g orb.Geometry, near orb.Bound) [][]orb.Point {
	var all [][]orb.Point
	var parts orb.MultiLineString
	switch g := g.(type) {
	case orb.LineString:
		parts = orb.MultiLineString{g}
	case orb.MultiLineString:
		parts = g
	case orb.Collection:
		for _, one := range g {
			all = append(all, lines(v, one, near)...)
		}
	}
	for _, part := range parts {
		for _, piece := range clip.LineString(near, part.Clone()) {
			path := make([]orb.Point, len(piece))
			for i, at := range piece {
				path[i] = v.paper(at)
			}
			all = append(all, v.clipped(path)...)
		}
	}
	return all
}

// drawZones shows where hand digging starts by the job's rule, and round it the
// record's own doubt.
func (s site) drawZones(c canvas, v view, near orb.Bound) {
	for _, z := range s.known.Zones {
		colour := record.SymbologyOf(z.Utility, "").Colour
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
					c.Fill(all, colour, part.opacity)
				}
				for _, ring := range all {
					cased(c, ring, pen{black, 0.5, part.dash, false}, white, 0.6)
				}
			}
		}
	}
}

// drawReadings draws the dots, and gives back what draws their depths.
func (s site) drawReadings(c canvas, v view, near orb.Bound, r *room) []func() {
	var later []func()
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if o.IsTestHole(f) {
				continue // drawn over them
			}
			style := record.SymbologyOf(o.Kind.Code, levelOf(o, f.Properties))
			for _, p := range places(f.Geometry) {
				if !near.Contains(p) {
					continue
				}
				at := v.paper(p)
				if !v.nears(at) || !r.dot(at, style) {
					continue
				}
				drawReading(c, at, style)
				r.fill(box{at[0] - 1.5, at[1] - 1.5, 3, 3})
				if m, ok := f.Properties["depth_m"].(float64); ok && v.shows(at) {
					text := style.Letter + " " + depthText(&m, s.about.Units)
					later = append(later, func() { r.label(c, at, text, lettering{size: 7, bold: true, back: white, edge: black}) })
				}
			}
		}
	}
	return later
}

func places(g orb.Geometry) []orb.Point {
	switch g := g.(type) {
	case orb.Point:
		return []orb.Point{g}
	case orb.MultiPoint:
		return g
	}
	return nil
}

// depthText is a depth as it is spoken; nil is "unknown".
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
func (s site) drawCrossings(c canvas, v view, near orb.Bound, r *room) {
	for i, x := range s.crossings() {
		if !near.Contains(x.Place) {
			continue
		}
		at := v.paper(x.Place)
		if !v.nears(at) {
			continue
		}
		ring := circle(at, 2.4)
		cased(c, ring, pen{colour: black, width: 1}, white, 1.4)
		r.fill(box{at[0] - 2.4, at[1] - 2.4, 4.8, 4.8})
		if !v.shows(at) {
			continue
		}
		r.label(c, at, "X"+strconv.Itoa(i+1), lettering{size: 7, bold: true, colour: white, back: black, edge: white})
	}
}

// drawPlainRecords draws lines and readings small, for the overview. What draws
// the letters of the lines is given back: they come last.
func (s site) drawPlainRecords(c canvas, v view, r *room) (lettered []func()) {
	near := v.ground(5)
	for _, l := range s.known.Lines {
		if l.Basis != "record" {
			lettered = append(lettered, s.drawJoined(c, v, l, near, r)...)
		}
	}
	for _, o := range s.overlays {
		for _, f := range o.Features {
			style, look := record.SymbologyOf(o.Kind.Code, levelOf(o, f.Properties)), lookOf(o, f.Properties)
			paths := lines(v, f.Geometry, near)
			for _, p := range pack.Polygons(f.Geometry) {
				for _, ring := range rings(v, clip.Polygon(near, p.Clone())) {
					paths = append(paths, ring)
				}
			}
			for _, path := range paths {
				drawBroken(c, path, pen{style.Colour, 1.5, style.Dash, style.Round}, style.Casing, 1.4)
				drawTicks(c, path, style)
				drawState(c, path, style, look, 1.5)
				lettered = append(lettered, s.writeAlong(c, v, path, style, look, r)...)
			}
			for _, p := range places(f.Geometry) {
				if at := v.paper(p); near.Contains(p) && o.IsTestHole(f) {
					drawTestHole(c, at, style, holeHalfSmall)
				} else if near.Contains(p) && r.dot(at, style) {
					c.Disc(at, 0.8, black)
					c.Disc(at, 0.55, style.Colour)
				}
			}
		}
	}
	for _, x := range s.known.Crossings { // no text stands on one
		if at := v.paper(x.Place); near.Contains(x.Place) {
			r.fill(box{at[0] - 1.5, at[1] - 1.5, 3, 3})
		}
	}
	return lettered
}

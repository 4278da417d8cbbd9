package brief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
)

// Widths of recorded lines on paper, in points.
const (
	lineWidth  = 2.2
	caseExtra  = 2.0
	tickWidth  = 1.2
	dotRadius  = 3.2 // of a reading
	letterSize = 7.5
)

// letterEvery is the distance along a line from one letter to the next, millimeters.
const letterEvery = 38

// drawLine draws a recorded line, with its width and that of its casing in points:
// color and casing broken by quality level, and the ticks of its utility.
func drawLine(c canvas, path []orb.Point, s record.Symbology, width, extra float64) {
	// The casing is broken too: a black one without gaps would look like a line of
	// the best quality level, on a black-and-white print above all.
	c.Stroke(path, pen{s.Casing, width + extra, s.Dash, s.Round || len(s.Dash) == 0})
	c.Stroke(path, pen{s.Color, width, s.Dash, s.Round})
	drawTicks(c, path, s)
}

// drawTicks draws the ticks that identify a utility without its color.
func drawTicks(c canvas, path []orb.Point, s record.Symbology) {
	if s.Every <= 0 {
		return
	}
	for at := s.Every / 2 * point; ; at += s.Every * point {
		if _, _, ok := pointAlong(path, at); !ok {
			return
		}
		for _, t := range s.Ticks {
			if p, way, ok := pointAlong(path, at+t.At*point); ok {
				drawTick(c, p, way, t, s)
			}
		}
	}
}

func drawTick(c canvas, p orb.Point, way float64, t record.Tick, s record.Symbology) {
	if t.Length == 0 {
		c.Disc(p, 2.9*point, s.Casing)
		c.Disc(p, 2.1*point, s.Color)
		return
	}
	for _, side := range []struct {
		there bool
		turn  float64
	}{{t.Left, -math.Pi / 2}, {t.Right, math.Pi / 2}} {
		if !side.there {
			continue
		}
		a := way + side.turn + t.Lean*math.Pi/180
		end := orb.Point{p[0] + t.Length*point*math.Cos(a), p[1] + t.Length*point*math.Sin(a)}
		cased(c, []orb.Point{p, end}, pen{color: s.Color, width: tickWidth}, s.Casing, 1.4)
	}
}

// pointAlong is the place and direction (radians, clockwise from east on paper) at a
// distance along a path.
func pointAlong(path []orb.Point, at float64) (p orb.Point, way float64, ok bool) {
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		dx, dy := b[0]-a[0], b[1]-a[1]
		long := math.Hypot(dx, dy)
		if at <= long && long > 0 {
			return orb.Point{a[0] + dx*at/long, a[1] + dy*at/long}, math.Atan2(dy, dx), true
		}
		at -= long
	}
	return orb.Point{}, 0, false
}

func pathLength(path []orb.Point) float64 {
	sum := 0.0
	for i := 1; i < len(path); i++ {
		sum += math.Hypot(path[i][0]-path[i-1][0], path[i][1]-path[i-1][1])
	}
	return sum
}

// letterPlaces are the places of a line's letters.
func letterPlaces(path []orb.Point) []orb.Point {
	var all []orb.Point
	long := pathLength(path)
	first := min(letterEvery/2, long/2)
	for at := first; at <= long && long > 8; at += letterEvery {
		if p, _, ok := pointAlong(path, at); ok {
			all = append(all, p)
		}
	}
	return all
}

// drawLetter writes the letter of a line, and its state behind it, round a place.
func drawLetter(c canvas, p orb.Point, s record.Symbology, text string) {
	c.Text(letterFoot(p), text, letterLook(s))
}

func letterFoot(p orb.Point) orb.Point { return orb.Point{p[0], p[1] + letterSize*point*0.36} }

func letterLook(s record.Symbology) lettering {
	return lettering{size: letterSize, bold: true, color: s.Color, back: s.Casing, edge: s.Color, align: 'c'}
}

// circle is a ring of straight edges; radius in millimeters.
func circle(p orb.Point, radius float64) orb.Ring {
	const turns = 24
	ring := make(orb.Ring, 0, turns+1)
	for i := range turns + 1 {
		a := 2 * math.Pi * float64(i) / turns
		ring = append(ring, orb.Point{p[0] + radius*math.Cos(a), p[1] + radius*math.Sin(a)})
	}
	return ring
}

// drawReading is the dot of a reading.
func drawReading(c canvas, p orb.Point, s record.Symbology) {
	c.Disc(p, (dotRadius+1.2)*point, black)
	c.Disc(p, (dotRadius+0.7)*point, white)
	c.Disc(p, dotRadius*point, s.Color)
}

// drawFace hatches a face and draws its edge.
func drawFace(c canvas, rings []orb.Ring, s record.Symbology) {
	c.Fill(rings, s.Color, 0.12)
	angles := []float64{s.Hatch.Angle}
	if s.Hatch.Crossed {
		angles = append(angles, s.Hatch.Angle+90)
	}
	for _, angle := range angles {
		for _, stroke := range hatch(rings, angle, s.Hatch.Gap*point) {
			cased(c, stroke, pen{color: s.Color, width: 0.5}, s.Casing, 0.5)
		}
	}
	for _, ring := range rings {
		drawLine(c, ring, record.Symbology{Color: s.Color, Casing: s.Casing, Dash: s.Dash, Round: s.Round},
			lineWidth, caseExtra)
	}
}

// Widths of what tells the state of a line, in points.
const (
	strokeWidth = 1.1
	coreWidth   = 1.1 // of the hollow in a proposed line
)

// stateBehind is written after a line's name; "" for a line in service, or whose
// record says nothing.
func stateBehind(l derive.Line) string {
	if state := l.StateText(); state != "" && state != l.Utility {
		return ", " + sanitize(state, cellText)
	}
	return ""
}

// drawState draws what a state adds to a line of a width in points, that is
// drawn already.
func drawState(c canvas, path []orb.Point, s record.Symbology, look record.StateSymbology, width float64) {
	if look.Hollow {
		c.Stroke(path, pen{s.Casing, coreWidth * width / lineWidth, s.Dash, s.Round})
	}
	if look.Every <= 0 {
		return
	}
	long := pathLength(path)
	for at := min(look.Every/4*point, long/2); at <= long && long > 0; at += look.Every * point {
		for _, t := range look.Strokes {
			if p, way, ok := pointAlong(path, at+t.At*point); ok {
				drawStroke(c, p, way, t)
			}
		}
	}
}

// drawStroke strikes a line out at a place: in ink, so that no tick of a utility
// looks like it, not even on a print without colors.
func drawStroke(c canvas, p orb.Point, way float64, t record.Tick) {
	a := way + math.Pi/2 + t.Lean*math.Pi/180
	dx, dy := t.Length*point*math.Cos(a), t.Length*point*math.Sin(a)
	cased(c, []orb.Point{{p[0] - dx, p[1] - dy}, {p[0] + dx, p[1] + dy}}, pen{color: black, width: strokeWidth},
		white, 1.4)
}

// stateSymbology is the symbology of a feature by its state.
func stateSymbology(o record.Overlay, properties map[string]any) record.StateSymbology {
	state, _ := o.StateOf(properties)
	return record.StateSymbologyOf(state)
}

// writeAlong returns what writes along a line: its letter, and at every other place
// its state too, where that has symbology.
func (s packData) writeAlong(c canvas, v view, path []orb.Point, style record.Symbology,
	look record.StateSymbology, r *labelPlacer) (all []func()) {
	for i, at := range letterPlaces(path) {
		all = append(all, func() {
			if look.Word == "" || i%2 == 1 || !s.writeState(c, v, at, style, look, r) {
				s.letter(c, at, style, r)
			}
		})
	}
	return all
}

// writeState writes letter and state where they cover nothing, no crossing above all.
func (s packData) writeState(c canvas, v view, at orb.Point, style record.Symbology, look record.StateSymbology,
	r *labelPlacer) bool {
	text := style.Letter + " " + look.Word
	b := r.fonts.textBox(letterFoot(at), text, letterLook(style))
	round := b.grown(2.4) // a crossing's ring
	crosses := func(x derive.Crossing) bool { return round.has(v.toPaper(x.Place)) }
	if slices.ContainsFunc(s.derived.Crossings, crosses) || !r.reserveText(letterFoot(at), text, letterLook(style)) {
		return false
	}
	drawLetter(c, at, style, text)
	return true
}

// drawTestHole is the mark of a test hole: a square with a dot.
func drawTestHole(c canvas, p orb.Point, s record.Symbology, half float64) {
	square := func(half float64) []orb.Ring {
		return []orb.Ring{rectangle(around(p, half))}
	}
	c.Fill(square(half+0.55), black, 1)
	c.Fill(square(half+0.3), white, 1)
	c.Fill(square(half), s.Color, 1)
	c.Disc(p, half*0.45, s.Casing)
}

// Half sides of test holes, in millimeters.
const (
	holeHalf      = 1.4
	holeHalfSmall = 0.7 // on the overview
)

// mostHatches bounds the strokes of a face that fills a page.
const mostHatches = 2000

// hatch fills rings with parallel strokes: angle in degrees from east counter-
// clockwise, gap in millimeters. A stroke is inside where an odd number of edges
// lies before it.
func hatch(rings []orb.Ring, angle, gap float64) [][]orb.Point {
	if gap <= 0 {
		return nil
	}
	sin, cos := math.Sincos(angle * math.Pi / 180)
	turn := func(p orb.Point) orb.Point { return orb.Point{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos} }
	back := func(p orb.Point) orb.Point { return orb.Point{p[0]*cos + p[1]*sin, -p[0]*sin + p[1]*cos} }
	low, high := math.Inf(1), math.Inf(-1)
	var turned []orb.Ring
	for _, ring := range rings {
		var r orb.Ring
		for _, p := range ring {
			q := turn(p)
			r = append(r, q)
			low, high = min(low, q[1]), max(high, q[1])
		}
		turned = append(turned, r)
	}
	if (high-low)/gap > mostHatches || math.IsInf(low, 0) {
		return nil
	}
	var all [][]orb.Point
	for y := math.Ceil(low/gap) * gap; y < high; y += gap {
		at := crossingsAt(turned, y)
		for i := 0; i+1 < len(at); i += 2 {
			all = append(all, []orb.Point{back(orb.Point{at[i], y}), back(orb.Point{at[i+1], y})})
		}
	}
	return all
}

// crossingsAt gives where edges cross a level line, from the left.
func crossingsAt(rings []orb.Ring, y float64) []float64 {
	var at []float64
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			if a, b := r[i-1], r[i]; (a[1] <= y) != (b[1] <= y) {
				at = append(at, a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]))
			}
		}
	}
	slices.Sort(at)
	return at
}

package brief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
)

// Widths of what tells the state of a line, in points.
const (
	strokeWidth = 1.1
	coreWidth   = 1.1 // of the hollow in a proposed line
)

// stateBehind stands behind a line's name; "" for a line in service, or whose
// record says nothing.
func stateBehind(l derive.Line) string {
	if state := l.StateText(); state != "" && state != l.Utility {
		return ", " + tidy(state, cellText)
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
	long := length(path)
	for at := min(look.Every/4*point, long/2); at <= long && long > 0; at += look.Every * point {
		for _, t := range look.Strokes {
			if p, way, ok := along(path, at+t.At*point); ok {
				drawStroke(c, p, way, t)
			}
		}
	}
}

// drawStroke strikes a line out at a place: in ink, so that no tick of a
// utility looks like it, on a print without colors neither.
func drawStroke(c canvas, p orb.Point, way float64, t record.Tick) {
	a := way + math.Pi/2 + t.Lean*math.Pi/180
	dx, dy := t.Length*point*math.Cos(a), t.Length*point*math.Sin(a)
	cased(c, []orb.Point{{p[0] - dx, p[1] - dy}, {p[0] + dx, p[1] + dy}}, pen{colour: black, width: strokeWidth}, white, 1.4)
}

// lookOf is the look of a feature by its state.
func lookOf(o record.Overlay, properties map[string]any) record.StateSymbology {
	state, _ := o.StateOf(properties)
	return record.StateSymbologyOf(state)
}

// writeAlong gives back what writes along a line: its letter, and where its
// state has a look of its own its state too, at every other place.
func (s site) writeAlong(c canvas, v view, path []orb.Point, style record.Symbology, look record.StateSymbology, r *room) (all []func()) {
	for i, at := range letters(path) {
		all = append(all, func() {
			if look.Word == "" || i%2 == 1 || !s.writeState(c, v, at, style, look, r) {
				s.letter(c, at, style, r)
			}
		})
	}
	return all
}

// writeState writes letter and state where they have room and cover no crossing.
func (s site) writeState(c canvas, v view, at orb.Point, style record.Symbology, look record.StateSymbology, r *room) bool {
	text := style.Letter + " " + look.Word
	b := r.paper.around(letterFoot(at), text, letterLook(style))
	round := b.grown(2.4) // a crossing's ring
	if !r.on.holds(b) || !r.free(b) || slices.ContainsFunc(s.known.Crossings, func(x derive.Crossing) bool { return round.has(v.paper(x.Place)) }) {
		return false
	}
	r.fill(b)
	drawLetter(c, at, style, text)
	return true
}

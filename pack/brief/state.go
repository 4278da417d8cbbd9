package brief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/overlay"
	"groundsheet/tiles/words"
)

// Widths of what tells the state of a line, in points.
const (
	strokeWidth = 1.1
	coreWidth   = 1.1 // of the hollow in a proposed line
)

// stateBehind stands behind a line's name; "" for a line in service, or whose
// record says nothing.
func stateBehind(l overlay.Line) string {
	if state := l.StateTold(); state != "" {
		return ", " + tidy(state, cellText)
	}
	return ""
}

// drawState draws what a state adds to a line of a width in points, that is
// drawn already.
func drawState(c canvas, path []orb.Point, s overlay.Style, look overlay.StateLook, width float64) {
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
func drawStroke(c canvas, p orb.Point, way float64, t overlay.Tick) {
	a := way + math.Pi/2 + t.Lean*math.Pi/180
	dx, dy := t.Length*point*math.Cos(a), t.Length*point*math.Sin(a)
	cased(c, []orb.Point{{p[0] - dx, p[1] - dy}, {p[0] + dx, p[1] + dy}}, pen{colour: black, width: strokeWidth}, white, 1.4)
}

// lookOf is the look of a feature by its state.
func lookOf(o overlay.Overlay, properties map[string]any) overlay.StateLook {
	state, _ := o.StateOf(properties)
	return overlay.StateLookOf(state)
}

// stateLegend tells the states that are drawn apart and stand in the records.
func (s site) stateLegend() (all []legendEntry) {
	for _, look := range overlay.StateLooks() {
		if !slices.ContainsFunc(s.known.Lines, func(l overlay.Line) bool { return l.State == look.State }) {
			continue
		}
		style := overlay.StyleOf("water", "A")
		style.Colour, style.Casing = black, white
		all = append(all, legendEntry{func(c canvas, a, b orb.Point) {
			drawLine(c, []orb.Point{a, b}, style)
			drawState(c, []orb.Point{a, b}, style, look, lineWidth)
		}, stateWords(look.State)})
	}
	return all
}

func stateWords(s overlay.State) string {
	switch s {
	case overlay.Abandoned:
		return words.Say("legend.abandoned")
	case overlay.OutOfService:
		return words.Say("legend.out_of_service")
	}
	return words.Say("legend.proposed")
}

package plan

import (
	"fmt"
	"slices"
	"strings"

	"groundsheet/tiles/area"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// AreaWords is the size of the area; what overlaps is counted once.
func (p Plan) AreaWords() string {
	return measure.GroundArea(area.Area{Polygons: p.Ground.Area}.SquareMeters(), p.Job.Units)
}

// TotalWords sums the plan up in one sentence.
func (p Plan) TotalWords() string {
	about := words.Say("plan.about")
	if p.Guessed {
		about = words.Say("plan.guessed")
	}
	total := words.Say("plan.total", "n", p.Tiles, "fetch", p.Fetch, "about", about, "size", measure.Size(p.Bytes))
	if p.Fetch == 0 {
		return total
	}
	return total + "; " + p.TimeWords()
}

// TimeWords says how long fetching will take, and what that rests on.
func (p Plan) TimeWords() string {
	switch {
	case p.Timed:
		return words.Say("plan.time_measured", "time", measure.Seconds(p.Seconds))
	case p.Source.Local():
		return words.Say("plan.time_local")
	}
	return words.Say("plan.time_stated", "time", measure.Seconds(p.Seconds))
}

// SharpnessWords say whether the picture will be sharp enough, and which zooms were
// chosen or left out.
func (p Plan) SharpnessWords() []string {
	v := p.Advice
	reading, pixels := measure.Distance(v.ReadingM).In(p.Job.Units), fmt.Sprintf("%.1f", v.PixelsAtDeepest)
	lines := []string{words.Say("plan.sharpness_never", "reading", reading, "pixels", pixels, "needed", pixelsToPlace)}
	if len(p.Source.Draw) > 0 {
		lines[0] = words.Say("plan.sharpness_drawn", "reading", reading)
	} else if v.CanPlace {
		lines[0] = words.Say("plan.sharpness", "reading", reading, "pixels", pixels, "zoom", v.ZoomToPlace, "needed", pixelsToPlace)
	}
	if v.Chosen {
		lines = append(lines, words.Say("plan.chosen", "min", p.Base.Zooms.Min, "max", p.Base.Zooms.Max))
	}
	if len(v.Magnified) == 0 {
		return lines
	}
	native := p.Source.GroundResolution.In(p.Job.Units)
	deeper := strings.Trim(strings.Join(strings.Fields(fmt.Sprint(v.Magnified)), ", "), "[]")
	if slices.Contains(v.Magnified, p.Base.Zooms.Max) {
		return append(lines, words.Say("plan.waste", "native", native, "zoom", *v.NativeZoom, "deeper", deeper))
	}
	return append(lines, words.Say("plan.left_out", "native", native, "zoom", *v.NativeZoom, "deeper", deeper))
}

// TermsWords says what applies to the source; it must have terms.
func (p Plan) TermsWords() string {
	t := p.Source.Terms
	parts := []string{words.Say("terms.offline", "word", t.Offline)}
	if t.Reference != "" {
		parts = append(parts, t.Reference)
	}
	return strings.Join(append(parts, p.Source.LimitsWords()...), "; ")
}

package brief

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words"
)

// testHoleTable lists every test hole apart from the readings: there somebody
// saw the line.
func (s site) testHoleTable() section {
	out := section{
		Title: words.Say("paper.test_holes"), Head: heads(words.Say("paper.test_holes_head")),
		Wide: []float64{0.09, 0.15, 0.08, 0.08, 0.16, 0.11, 0.11, 0.09, 0.13},
	}
	type hole struct {
		row []string
		in  bool
	}
	var all []hole
	along := s.standings()
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if !o.IsTestHole(f) {
				continue
			}
			for _, p := range places(f.Geometry) {
				all = append(all, hole{s.testHoleRow(o, f.Properties, p, along), planar.MultiPolygonContains(s.area, p)})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b hole) int { return cmp.Compare(outside(a.in), outside(b.in)) })
	if more := len(all) - mostReadings; more > 0 {
		all = all[:mostReadings]
		out.Notes = append(out.Notes, words.Say("brief.more_test_holes", "n", more, "shown", mostReadings))
	}
	for _, h := range all {
		out.Rows = append(out.Rows, h.row)
	}
	if len(all) > 0 {
		out.Notes = append(out.Notes, words.Say("testhole.limits"))
	}
	return out
}

func (s site) testHoleRow(o record.Overlay, p map[string]any, at orb.Point, along map[readingKey]standing) []string {
	reading := s.readingRow(o, p, at, along)
	depth, refers := reading[3], reading[4]
	text := func(name string) string {
		if v := p[name]; v != nil {
			return tidy(fmt.Sprint(v), cellText)
		}
		return ""
	}
	if _, known := p["depth_m"].(float64); !known {
		depth = words.Say("paper.not_stated")
	}
	if elevation := text("elevation"); elevation != "" {
		refers += "; " + words.Say("testhole.elevation", "elevation", elevation, "datum", stated(text("vertical_datum")))
	}
	return []string{reading[0], reading[1], reading[2], depth, refers, stated(text("who")), reading[6], cmp.Or(text("photo"), words.Say("paper.no_photo")), reading[7]}
}

// drawTestHole is the mark of a test hole: a square with a dot.
func drawTestHole(c canvas, p orb.Point, s record.Symbology, half float64) {
	square := func(half float64) []orb.Ring {
		return []orb.Ring{rectangle(box{p[0] - half, p[1] - half, 2 * half, 2 * half})}
	}
	c.Fill(square(half+0.55), black, 1)
	c.Fill(square(half+0.3), white, 1)
	c.Fill(square(half), s.Colour, 1)
	c.Disc(p, half*0.45, s.Casing)
}

// Half sides of test holes, in millimetres.
const (
	holeHalf      = 1.4
	holeHalfSmall = 0.7 // on the overview
)

// drawTestHoles draws them over the readings, each by itself, and gives back
// what writes their depths.
func (s site) drawTestHoles(c canvas, v view, near orb.Bound, r *room) (later []func()) {
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if !o.IsTestHole(f) {
				continue
			}
			style := record.SymbologyOf(o.Kind.Code, levelOf(o, f.Properties))
			for _, p := range places(f.Geometry) {
				if !near.Contains(p) {
					continue
				}
				at := v.paper(p)
				drawTestHole(c, at, style, holeHalf)
				r.fill(box{at[0] - 2, at[1] - 2, 4, 4})
				if m, ok := f.Properties["depth_m"].(float64); ok && v.shows(at) {
					text := style.Letter + " " + depthText(&m, s.about.Units)
					later = append(later, func() { r.label(c, at, text, lettering{size: 7, bold: true, back: white, edge: black}) })
				}
			}
		}
	}
	return later
}

// testHoleLegend is the entry of test holes, where there are any.
func (s site) testHoleLegend() []legendEntry {
	if !slices.ContainsFunc(s.overlays, func(o record.Overlay) bool { return o.TestHoles() > 0 }) {
		return nil
	}
	return []legendEntry{{func(c canvas, a, b orb.Point) {
		drawTestHole(c, orb.Point{(a[0] + b[0]) / 2, a[1]}, record.SymbologyOf("survey", ""), holeHalf)
	}, words.Say("legend.test_hole")}}
}

// readingCount tells readings and, apart from them, test holes.
func readingCount(st derive.Statistics) string {
	text := words.Say("paper.readings", "n", st.Readings, "with_depth", st.WithDepth)
	if st.TestHoles > 0 {
		text += "; " + words.Say("testhole.count", "n", st.TestHoles)
	}
	return text
}

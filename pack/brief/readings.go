package brief

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// mostReadings are told on paper: some 25 pages. Those in the dig area come
// before others when there are more.
const mostReadings = 1500

// standing is where a reading stands along a line.
type standing struct {
	line string // as people call it
	atM  float64
}

type readingKey struct {
	overlay string
	place   orb.Point
	row     int
}

// readingTable lists every reading, so that no depth is on no paper.
func (s site) readingTable() section {
	out := section{
		Title: words.Say("paper.readings_title"), Head: heads(words.Say("paper.readings_head")),
		Wide: []float64{0.11, 0.17, 0.08, 0.07, 0.13, 0.09, 0.16, 0.19},
	}
	type one struct {
		row []string
		in  bool
	}
	var all []one
	along := s.standings()
	for _, o := range s.overlays {
		for _, f := range o.Features {
			if o.IsTestHole(f) {
				continue // in a table of their own
			}
			for _, p := range places(f.Geometry) {
				all = append(all, one{s.readingRow(o, f.Properties, p, along), planar.MultiPolygonContains(s.area, p)})
			}
		}
	}
	if len(all) == 0 {
		out.Notes = []string{words.Say("brief.no_readings")}
		return out
	}
	if more := len(all) - mostReadings; more > 0 {
		slices.SortStableFunc(all, func(a, b one) int { return cmp.Compare(outside(a.in), outside(b.in)) })
		all = all[:mostReadings]
		out.Notes = append(out.Notes, words.Say("brief.more_readings", "n", more, "shown", mostReadings))
	}
	for _, r := range all {
		if out.Rows = append(out.Rows, r.row); r.row[4] == words.Say("brief.to_signal") && !slices.Contains(out.Notes, words.Say("brief.signal")) {
			out.Notes = append(out.Notes, words.Say("brief.signal"))
		}
	}
	return out
}

func (s site) standings() map[readingKey]standing {
	all := map[readingKey]standing{}
	for _, l := range s.known.Lines {
		for _, x := range l.Stations {
			all[readingKey{l.Overlay, x.Place, x.Line}] = standing{s.lineName(l.ID), x.AtM}
		}
	}
	return all
}

func (s site) readingRow(o record.Overlay, p map[string]any, at orb.Point, along map[readingKey]standing) []string {
	text := func(name string) string {
		if v := p[name]; v != nil {
			return tidy(fmt.Sprint(v), cellText)
		}
		return ""
	}
	n, _ := p["line_in_file"].(float64)
	line, station := words.Say("paper.no_line_named", "utility", o.Kind.Code), "—"
	if name := text("line"); name != "" {
		line, station = o.Kind.Code+" "+name, words.Say("paper.not_along")
	}
	if x, ok := along[readingKey{o.ID, at, int(n)}]; ok {
		line, station = x.line, s.in(x.atM)
	}
	return []string{
		cmp.Or(readingName(text, n), words.Say("paper.not_numbered")), line, station, s.readDepth(p), reference(text), s.readAccuracy(o, p),
		cmp.Or(text("date"), stated(o.Recorded)), fmt.Sprintf("%.7f, %.7f", at.Lat(), at.Lon()),
	}
}

// readingName is what the record calls a reading, else where it stands in its
// file.
func readingName(text func(string) string, row float64) string {
	var parts []string
	for _, name := range []string{"order", "label"} {
		if v := text(name); v != "" && !slices.Contains(parts, v) {
			parts = append(parts, v)
		}
	}
	if len(parts) == 0 && row > 0 {
		return words.Say("paper.row", "n", fmt.Sprintf("%.0f", row))
	}
	return strings.Join(parts, ", ")
}

func (s site) readDepth(p map[string]any) string {
	m, ok := p["depth_m"].(float64)
	if !ok {
		return words.Say("paper.none")
	}
	return depthText(&m, s.about.Units)
}

func (s site) readAccuracy(o record.Overlay, p map[string]any) string {
	if m, ok := p["accuracy_m"].(float64); ok {
		return s.in(m)
	}
	if o.Accuracy != nil {
		return words.Say("paper.accuracy_of_record", "accuracy", o.Accuracy.In(s.about.Units))
	}
	return words.Say("paper.not_stated")
}

// reference is the part of a line that a depth is to. A locator reads to the
// center of its signal.
func reference(text func(string) string) string {
	if of := text("depth_of"); of != "" {
		return of
	}
	if text("frequency_hz") != "" || text("current_ma") != "" {
		return words.Say("brief.to_signal")
	}
	return words.Say("paper.not_stated")
}

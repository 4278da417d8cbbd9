package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/overlay"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// lineNames names lines for people.
func lineNames(s site) map[string]string {
	titles, all := map[string]string{}, map[string]string{}
	for _, o := range s.overlays {
		titles[o.ID] = o.Title
	}
	for _, l := range s.known.Lines {
		state := stateBehind(l)
		if name := cmp.Or(l.Name, l.Label); name != "" {
			all[l.ID] = tidy(l.Utility+" "+name, 60) + state
			continue
		}
		number := l.ID[strings.LastIndex(l.ID, "/")+1:]
		all[l.ID] = tidy(l.Utility+", "+titles[l.Overlay], 60) + " (line " + tidy(number, 10) + ")" + state
	}
	return all
}

// lineName names a line, or whatever else a finding is about.
func (s site) lineName(id string) string {
	if name, known := s.names[id]; known {
		return name
	}
	return stated(id)
}

func (s site) crossingTable() section {
	out := section{
		Title: "Crossings and conflicts", Head: []string{"No.", "Lines", "Depths and what they rest on", "Between the tops", "In words", "Latitude, longitude"},
		Wide: []float64{0.06, 0.24, 0.25, 0.12, 0.19, 0.14},
	}
	for i, x := range s.crossings() {
		if i == mostRows {
			break // cut counts the rest
		}
		apart := "unknown"
		if x.SeparationM != nil {
			apart = s.in(*x.SeparationM)
		}
		where := fmt.Sprintf("%.6f, %.6f", x.Place.Lat(), x.Place.Lon())
		if !x.InArea {
			where += " (outside the dig area)"
		}
		out.Rows = append(out.Rows, []string{
			"X" + strconv.Itoa(i+1), s.lineName(x.Lines[0]) + " / " + s.lineName(x.Lines[1]),
			s.depth(x.Depths[0]) + " / " + s.depth(x.Depths[1]), apart, withRules(x.Relation, x.Rules), where,
		})
	}
	if n := len(s.known.Crossings); n == 0 {
		out.Notes = []string{words.Say("crossing.none")}
	} else {
		out.Notes = []string{words.Say("crossing.table", "n", n, "unknown", s.openCrossings())}
		if n > mostRows {
			out.Notes = append(out.Notes, fmt.Sprintf("… and %d more, left out for length; the pack holds them all.", n-mostRows))
		}
	}
	return out
}

func (s site) depth(d overlay.Depth) string {
	if d.M == nil {
		return s.nearReading(d.Near)
	}
	text := depthText(d.M, s.about.Units) + " " + words.Say("crossing.to", "part", cmp.Or(tidy(d.Of, cellText), "part not stated")) + " (" + d.Basis
	if d.GapM > 0 {
		text += " " + s.in(d.GapM) + " apart"
	}
	text += ", " + words.Say("crossing.rests", "level", stated(d.Level), "date", stated(d.Recorded)) + ")"
	if d.AlsoM != nil {
		text += "; " + words.Say("crossing.also", "depth", depthText(d.AlsoM, s.about.Units))
	}
	if d.Mixed {
		text += "; " + words.Say("crossing.mixed")
	}
	return text
}

func (s site) entries() section {
	out := section{Title: "Lines that enter the dig area, or come near it", Head: []string{"Line", "What it does", "Length inside", "Nearest"}, Wide: []float64{0.36, 0.36, 0.14, 0.14}}
	for _, e := range s.known.Entries {
		if len(out.Rows) == mostRows {
			out.Notes = append(out.Notes, fmt.Sprintf("… and %d more, left out for length; the pack holds them all.", len(s.known.Entries)-mostRows))
			break
		}
		near := "inside"
		if e.NearestM > 0 {
			near = s.in(e.NearestM)
		}
		inside := "none"
		if e.LengthM > 0 {
			inside = s.in(e.LengthM)
		}
		out.Rows = append(out.Rows, []string{s.lineName(e.Line), e.Kind, inside, near})
	}
	if len(out.Rows) == 0 {
		out.Notes = []string{"No recorded line enters the dig area."}
	}
	return out
}

// disagreeing are the kinds of findings about readings that do not fit together.
var disagreeing = []string{"depth jump", "current drop", "duplicate", "off line"}

func (s site) doubts() section {
	out := section{Title: "Readings that disagree, and other doubts about the records", Head: []string{"What", "Where", "Detail"}, Wide: []float64{0.14, 0.26, 0.6}}
	var rest [][]string
	for _, f := range s.known.Findings {
		where := s.lineName(f.Where)
		if f.Line > 0 {
			where += fmt.Sprintf(", line %d of its file", f.Line)
		}
		row := []string{tidy(f.Kind, 40), where, tidy(f.Detail, 300)}
		switch {
		case slices.Contains(disagreeing, f.Kind):
			out.Rows = append(out.Rows, row)
		case f.Severity != overlay.Note:
			rest = append(rest, row)
		}
	}
	if len(out.Rows) == 0 {
		out.Notes = []string{"No readings were found that disagree. That does not make them right."}
	}
	out.Rows = append(out.Rows, rest...)
	return out
}

// records lists each overlay with where it comes from.
func (s site) records() section {
	out := section{Title: "The records", Head: []string{"Record", "Utility", "Dated", "Owner", "Source of record", "Level", "Accuracy", "Datum"}, Wide: []float64{0.18, 0.12, 0.1, 0.17, 0.15, 0.08, 0.1, 0.1}}
	for _, o := range s.overlays {
		accuracy := "not stated"
		if o.Accuracy != nil {
			accuracy = s.in(o.Accuracy.Metres())
		}
		out.Rows = append(out.Rows, []string{stated(o.Title), o.Kind.Code, stated(o.Recorded), stated(o.Owner), stated(o.Record), stated(o.QualityLevel), accuracy, stated(o.Datum)})
	}
	return out
}

// coverage is what the pack holds of the base map.
func (s site) coverage() section {
	a := s.about
	out := section{Title: "What the pack covers", Wide: []float64{0.28, 0.72}}
	add := func(name, format string, args ...any) {
		out.Rows = append(out.Rows, []string{name, tidy(fmt.Sprintf(format, args...), noteText)})
	}
	add("Base map", "%s", stated(a.Source.Name))
	add("Attribution", "%s", stated(a.Source.Attribution))
	add("Zooms", "%d to %d", a.Zooms[0], a.Zooms[1])
	if r := a.GroundResolution; r > 0 && !math.IsInf(r, 0) {
		add("Ground resolution", "%s a pixel at zoom %d; pixels are not accuracy", s.in(r), a.Zooms[1])
	}
	add("Picture taken", "%s", unknown(a.Source.Captured))
	if f := a.Fetched; f != nil {
		add("Fetched or confirmed", "%s to %s (not the age of the picture)", stampOf(f.Oldest), stampOf(f.Newest))
	}
	if a.KeepUntil != nil {
		add("May be kept until", "%s, by the terms", stampOf(*a.KeepUntil))
	} else {
		add("May be kept until", "no limit stated")
	}
	add("Margin round the dig area", "%s", measure.Distance(a.MarginM).In(a.Units))
	add("Tiles", "%d", a.Tiles)
	add("Holes", "%d wanted tiles are absent at the source; %d of them are pictures that the operator named as no imagery", a.Holes, a.Placeholders)
	if len(a.Suspects) > 0 {
		var n int64
		for _, x := range a.Suspects {
			n += x.Tiles
		}
		add("Suspect pictures", "%d tiles show %d pictures that stand at places far apart: most likely no imagery", n, len(a.Suspects))
	}
	add("Terms", "%s", stated(a.Source.Reference))
	if a.Source.Permission != "" {
		add("Permission", "%s", stated(a.Source.Permission))
	}
	return out
}

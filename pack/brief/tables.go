package brief

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/source"
	"groundsheet/tiles/words"
)

// lineNames names lines for people.
func lineNames(s packData) map[string]string {
	titles, all := map[string]string{}, map[string]string{}
	for _, o := range s.overlays {
		titles[o.ID] = o.Title
	}
	for _, l := range s.derived.Lines {
		state := stateBehind(l)
		if name := cmp.Or(l.Name, l.Label); name != "" {
			all[l.ID] = sanitize(l.Utility+" "+name, 60) + state
			continue
		}
		number := l.ID[strings.LastIndex(l.ID, "/")+1:]
		of := sanitize(words.Say("paper.line_of", "utility", l.Utility, "record", titles[l.Overlay]), 60)
		all[l.ID] = words.Say("paper.line_number", "line", of, "n", sanitize(number, 10)) + state
	}
	return all
}

// lineName names a line, or another subject of a finding.
func (s packData) lineName(id string) string {
	if name, known := s.names[id]; known {
		return name
	}
	return stated(id)
}

func (s packData) crossingTable() Section {
	out := table(words.Say("paper.crossings"), words.Say("paper.crossings_head"), 0.06, 0.24, 0.25, 0.12, 0.19, 0.14)
	for i, x := range s.crossings() {
		if i == mostRows {
			break // the note counts the rest
		}
		apart := words.Say("paper.unknown")
		if x.SeparationM != nil {
			apart = s.in(*x.SeparationM)
		}
		where := fmt.Sprintf("%.6f, %.6f", x.Place.Lat(), x.Place.Lon())
		if !x.InArea {
			where = words.Say("paper.outside", "what", where)
		}
		out.Rows = append(out.Rows, []string{
			"X" + strconv.Itoa(i+1), s.lineName(x.Lines[0]) + " / " + s.lineName(x.Lines[1]),
			s.depth(x.Depths[0]) + " / " + s.depth(x.Depths[1]), apart, withRules(x.Relation, x.Rules), where,
		})
	}
	if n := len(s.derived.Crossings); n == 0 {
		out.Notes = []string{words.Say("crossing.none")}
	} else {
		out.Notes = []string{words.Say("crossing.table", "n", n, "unknown", s.openCrossings())}
		if n > mostRows {
			out.Notes = append(out.Notes, words.Say("paper.more", "n", n-mostRows))
		}
	}
	return out
}

func (s packData) depth(d derive.Depth) string {
	if d.M == nil {
		return s.nearReading(d.Near)
	}
	basis := d.Basis
	if d.GapM > 0 {
		basis = words.Say("paper.basis_apart", "basis", basis, "apart", s.in(d.GapM))
	}
	rests := words.Say("crossing.rests", "level", stated(d.Level), "date", stated(d.Recorded))
	text := depthText(d.M, s.about.Units) + " " + depthReference(d.Of) + " (" + basis + ", " + rests + ")"
	if d.AlsoM != nil {
		text += "; " + words.Say("crossing.also", "depth", depthText(d.AlsoM, s.about.Units))
	}
	if d.Mixed {
		text += "; " + words.Say("crossing.mixed")
	}
	return text
}

// depthReference is the part of a line that a depth is measured to.
func depthReference(of string) string {
	return words.Say("crossing.to", "part", cmp.Or(sanitize(of, cellText), words.Say("paper.part_not_stated")))
}

func (s packData) entries() Section {
	out := table(words.Say("paper.entries"), words.Say("paper.entries_head"), 0.36, 0.36, 0.14, 0.14)
	for _, e := range s.derived.Entries {
		if len(out.Rows) == mostRows {
			out.Notes = append(out.Notes, words.Say("paper.more", "n", len(s.derived.Entries)-mostRows))
			break
		}
		near := words.Say("paper.inside")
		if e.NearestM > 0 {
			near = s.in(e.NearestM)
		}
		inside := words.Say("paper.none")
		if e.LengthM > 0 {
			inside = s.in(e.LengthM)
		}
		out.Rows = append(out.Rows, []string{s.lineName(e.Line), e.Text(), inside, near})
	}
	if len(out.Rows) == 0 {
		out.Notes = []string{words.Say("paper.entries_none")}
	}
	return out
}

// disagreeing are the kinds of findings about readings that do not fit together.
var disagreeing = []string{"depth jump", "current drop", "duplicate", "off line"}

func (s packData) findingsTable() Section {
	out := table(words.Say("paper.doubts"), words.Say("paper.doubts_head"), 0.14, 0.26, 0.6)
	var rest [][]string
	for _, f := range s.derived.Findings {
		where := s.lineName(f.Where)
		if f.Line > 0 {
			where = words.Say("paper.where_line", "where", where, "n", f.Line)
		}
		row := []string{sanitize(f.Kind, 40), where, sanitize(f.Detail, 300)}
		switch {
		case slices.Contains(disagreeing, f.Kind):
			out.Rows = append(out.Rows, row)
		case f.Severity != record.Note:
			rest = append(rest, row)
		}
	}
	if len(out.Rows) == 0 {
		out.Notes = []string{words.Say("paper.doubts_none")}
	}
	out.Rows = append(out.Rows, rest...)
	return out
}

// records lists each overlay with where it comes from.
func (s packData) records() Section {
	out := table(words.Say("paper.records"), words.Say("paper.records_head"), 0.18, 0.12, 0.1, 0.17, 0.15, 0.08, 0.1, 0.1)
	for _, o := range s.overlays {
		out.Rows = append(out.Rows, []string{
			stated(o.Title), o.Kind.Code, stated(o.Recorded), stated(o.Owner), stated(o.Record), stated(o.QualityLevel),
			s.orUnknown(o.AccuracyOf(nil)), stated(o.Datum),
		})
	}
	return out
}

// coverage is what the pack holds of the base map.
func (s packData) coverage() Section {
	a := s.about
	out := Section{Title: words.Say("paper.coverage"), Wide: []float64{0.28, 0.72}}
	add := func(name, text string) { out.Rows = append(out.Rows, []string{name, sanitize(text, noteText)}) }
	add(words.Say("paper.base"), stated(a.Source.Name))
	add(words.Say("paper.attribution"), stated(a.Source.Attribution))
	add(words.Say("paper.zooms"), words.Say("paper.range", "from", a.Zooms[0], "to", a.Zooms[1]))
	if r := a.GroundResolution; r > 0 && !math.IsInf(r, 0) {
		add(words.Say("paper.resolution"), words.Say("paper.resolution_of", "size", s.in(r), "zoom", a.Zooms[1]))
	}
	if drawn := a.Source.Legend(); len(drawn) > 0 {
		var shown []string
		for _, d := range drawn {
			shown = append(shown, d.Words())
		}
		add(words.Say("drawn.head"), words.List(shown))
		add(words.Say("drawn.of"), unknown(a.Source.Captured))
	} else {
		add(words.Say("paper.captured"), unknown(a.Source.Captured))
	}
	if f := a.Fetched; f != nil {
		add(words.Say("paper.fetched"), words.Say("paper.fetched_between", "from", timeText(f.Oldest),
			"to", timeText(f.Newest)))
	}
	keep := words.Say("paper.keep_open")
	if a.KeepUntil != nil {
		keep = words.Say("paper.keep_until", "time", timeText(*a.KeepUntil))
	}
	add(words.Say("paper.keep"), keep)
	add(words.Say("paper.margin"), s.in(a.MarginM))
	add(words.Say("paper.tiles"), strconv.FormatInt(a.Tiles, 10))
	add(words.Say("paper.holes"), holesText(a))
	if len(a.Suspects) > 0 {
		var n int64
		for _, x := range a.Suspects {
			n += x.Tiles
		}
		add(words.Say("paper.suspects"), words.Say("paper.suspects_of", "n", n, "pictures", len(a.Suspects)))
	}
	add(words.Say("paper.terms"), stated(a.Source.Reference))
	if a.Source.Permission != "" {
		add(words.Say("paper.permission"), stated(a.Source.Permission))
	}
	copies := words.Say("paper.copies_open")
	switch a.Source.CopiesOnPhones {
	case source.CopiesAllowed:
		copies = words.Say("paper.copies_allowed")
	case source.CopiesForbidden:
		copies = words.Say("paper.copies_forbidden")
	}
	add(words.Say("paper.copies"), copies)
	return out
}

func holesText(a pack.About) string {
	switch {
	case a.Holes == 0:
		return words.Say("paper.none")
	case a.Placeholders == 0:
		return words.Say("paper.holes_of", "n", a.Holes)
	}
	return words.Say("paper.holes_placeholders", "n", a.Holes, "named", a.Placeholders)
}

// utilities is the table of what is known by utility.
func (s packData) utilities() Section {
	out := table(words.Say("paper.utilities"), words.Say("paper.utilities_head"), 0.16, 0.14, 0.12, 0.14, 0.14, 0.15, 0.15)
	if len(s.derived.Statistics) == 0 {
		out.Notes = []string{words.Say("paper.utilities_none")}
	}
	for _, st := range s.derived.Statistics {
		depths := words.Say("paper.not_stated")
		if st.ShallowestM != nil && st.DeepestM != nil {
			shallowest, deepest := depthText(st.ShallowestM, s.about.Units), depthText(st.DeepestM, s.about.Units)
			if depths = shallowest; deepest != shallowest {
				depths = words.Say("paper.range", "from", shallowest, "to", deepest)
			}
		}
		oldest := stated(st.Oldest)
		if st.Undated > 0 {
			oldest += "; " + words.Say("paper.undated", "n", st.Undated)
		}
		worst := s.orUnknown(st.WorstAccuracyM)
		if st.NoAccuracy > 0 && st.WorstAccuracyM != nil {
			worst += "; " + words.Say("paper.no_accuracy", "n", st.NoAccuracy)
		}
		count := lineCount(st.Lines, s.in(st.LengthM))
		if st.Proposed > 0 {
			count += "; " + words.Say("state.counted_proposed", "n", st.Proposed)
		}
		if !s.shown[st.Utility] {
			count += words.Say("brief.elsewhere")
		}
		out.Rows = append(out.Rows, []string{
			utilityName(st.Utility), count,
			readingCount(st), depths, oldest, worst, levels(st.Levels),
		})
	}
	return out
}

func lineCount(n int, long string) string {
	if n == 0 {
		return words.Say("paper.no_line")
	}
	return words.Say("paper.lines", "n", n, "long", long)
}

func levels(counts map[string]int) string {
	var all []string
	for level, n := range counts {
		all = append(all, fmt.Sprintf("%s: %d", stated(level), n))
	}
	slices.Sort(all)
	return sanitize(strings.Join(all, ", "), cellText)
}

// crossings are those in the dig area first; their numbers are those on the map.
func (s packData) crossings() []derive.Crossing {
	all := slices.Clone(s.derived.Crossings)
	slices.SortStableFunc(all, func(a, b derive.Crossing) int { return insideFirst(a.InArea, b.InArea) })
	return all
}

// insideFirst orders what lies in the dig area first.
func insideFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// readingCount counts readings and, apart from them, test holes.
func readingCount(st derive.Statistics) string {
	text := words.Say("paper.readings", "n", st.Readings, "with_depth", st.WithDepth)
	if st.TestHoles > 0 {
		text += "; " + words.Say("testhole.count", "n", st.TestHoles)
	}
	return text
}

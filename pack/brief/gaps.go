package brief

import (
	"cmp"
	"slices"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/words"
)

// openPoints counts what the records leave open: of lines, at crossings, and along
// lines that no record has.
func (s packData) openPoints() []string {
	all := s.unstatedOfLines()
	if counts := derive.StatesText(s.derived.Lines); counts != "" {
		all = append(all, counts)
	}
	if open := s.openCrossings(); open > 0 {
		all = append(all, words.Say("notknown.crossings", "n", open, "all", len(s.derived.Crossings)))
	}
	all = append(all, s.openRules()...)
	rows, off := 0, 0
	for _, f := range s.derived.Findings {
		switch {
		case f.Severity == record.Fault && f.Line > 0:
			rows++
		case f.Kind == "off line":
			off++
		}
	}
	if rows > 0 {
		all = append(all, words.Say("notknown.rows", "n", rows))
	}
	for _, o := range s.overlays {
		if text := record.LeftOutText(sanitize(o.Title, 60), o.LeaveOut); text != "" {
			all = append(all, text)
		}
	}
	if off > 0 {
		all = append(all, words.Say("notknown.off_line", "n", off))
	}
	return append(all, s.unreadStretches()...)
}

// openCrossings counts the crossings where it is not known which line is above.
func (s packData) openCrossings() (n int) {
	for _, x := range s.derived.Crossings {
		if x.Kind != derive.Above {
			n++
		}
	}
	return n
}

// unstatedOfLines is one sentence on what recorded lines do not state.
func (s packData) unstatedOfLines() []string {
	var depth, size, unread, date, accuracy, level int
	for _, l := range s.derived.Lines {
		if l.DepthM == nil && !slices.ContainsFunc(l.Stations, func(x derive.Station) bool { return x.DepthM != nil }) {
			depth++
		}
		if l.Size == "" {
			size++
		} else if l.HalfWidthM == nil {
			unread++
		}
		if l.Recorded == "" {
			date++
		}
		if l.AccuracyM == nil {
			accuracy++
		}
		if l.QualityLevel == "" {
			level++
		}
	}
	var parts []string
	add := func(n int, text string) {
		if n > 0 {
			parts = append(parts, text)
		}
	}
	add(depth, words.Say("notknown.no_depth", "n", depth))
	add(size, words.Say("notknown.no_size", "n", size))
	add(unread, words.Say("notknown.unread_size", "n", unread))
	add(date, words.Say("notknown.no_date", "n", date))
	add(accuracy, words.Say("notknown.no_accuracy", "n", accuracy))
	add(level, words.Say("notknown.no_level", "n", level))
	if len(parts) == 0 {
		return nil
	}
	return []string{words.Say("notknown.lines", "all", len(s.derived.Lines), "parts", words.List(parts))}
}

// mostStretches is how many lines are named.
const mostStretches = 6

// unreadStretches names lines through readings with stretches that are drawn
// straight between distant readings.
func (s packData) unreadStretches() (all []string) {
	gap := cmp.Or(s.about.Records.DepthGapM, derive.MostGap)
	more := 0
	for _, l := range s.derived.Lines {
		if l.Basis == "record" {
			continue
		}
		n, long := 0, 0.0
		for i := 1; i < len(l.Stations); i++ {
			if apart := l.Stations[i].AtM - l.Stations[i-1].AtM; apart > gap {
				n, long = n+1, max(long, apart)
			}
		}
		if n == 0 {
			continue
		}
		if len(all) == mostStretches {
			more++
			continue
		}
		all = append(all, words.Say("notknown.stretch", "line", s.lineName(l.ID), "n", n, "long", s.in(long), "gap", s.in(gap)))
	}
	if more > 0 {
		all = append(all, words.Say("notknown.more_stretches", "n", more))
	}
	return all
}

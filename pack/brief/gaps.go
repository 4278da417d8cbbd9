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
	count := func(is func(derive.Line) bool) (n int) {
		for _, l := range s.derived.Lines {
			if is(l) {
				n++
			}
		}
		return n
	}
	hasDepth := func(x derive.Station) bool { return x.DepthM != nil }
	depth := count(func(l derive.Line) bool { return l.DepthM == nil && !slices.ContainsFunc(l.Stations, hasDepth) })
	size := count(func(l derive.Line) bool { return l.Size == "" })
	unread := count(func(l derive.Line) bool { return l.Size != "" && l.HalfWidthM == nil })
	date := count(func(l derive.Line) bool { return l.Recorded == "" })
	accuracy := count(func(l derive.Line) bool { return l.AccuracyM == nil })
	level := count(func(l derive.Line) bool { return l.QualityLevel == "" })
	var parts []string
	for _, part := range []struct {
		n    int
		text string
	}{
		{depth, words.Say("notknown.no_depth", "n", depth)}, {size, words.Say("notknown.no_size", "n", size)},
		{unread, words.Say("notknown.unread_size", "n", unread)}, {date, words.Say("notknown.no_date", "n", date)},
		{accuracy, words.Say("notknown.no_accuracy", "n", accuracy)}, {level, words.Say("notknown.no_level", "n", level)},
	} {
		if part.n > 0 {
			parts = append(parts, part.text)
		}
	}
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
		all = append(all, words.Say("notknown.stretch", "line", s.lineName(l.ID), "n", n, "long", s.in(long),
			"gap", s.in(gap)))
	}
	if more > 0 {
		all = append(all, words.Say("notknown.more_stretches", "n", more))
	}
	return all
}

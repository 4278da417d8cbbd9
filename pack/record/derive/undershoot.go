package derive

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Limits of ends that stop short, in metres: the project's own choice, no source.
const (
	mostShort = 1.0  // from an end to another line
	meets     = 1e-3 // what is no farther apart meets
	mostSeam  = 0.05 // between lines of one utility that are taken to be joined there
)

// shortEnd is an end of a line near another line that it does not meet.
type shortEnd struct {
	line, other int
	at, on      float64 // stations of the end on its line, and of the nearest place on the other
	gap         float64 // metres

	crosses bool // from the end the line goes back to the other and crosses it
	beside  bool // it runs beside the other there
}

// lineEnds are the ends of a line, by their stations: none where it closes, or
// is one reading.
func lineEnds(l Line) []float64 {
	if len(l.Path) < 2 || l.LengthM <= meets || apart(l.Path[0], l.Path[0], l.Path[len(l.Path)-1], l.Path[len(l.Path)-1]) <= meets {
		return nil
	}
	return []float64{0, l.LengthM}
}

// shortEnds finds the ends that lie near another line without meeting it. An
// end that is joined to a line of its utility goes on there, so that only the
// gap between those two is told; one that runs beside the other is told there.
func (e edges) shortEnds(crossings []Crossing, besides []ParallelRun) (all []shortEnd) {
	told := map[[2]string][]ParallelRun{}
	for _, b := range besides {
		told[b.Lines] = append(told[b.Lines], b)
	}
	crossed := map[[2]string][]Crossing{}
	for _, c := range crossings {
		crossed[c.Lines] = append(crossed[c.Lines], c)
	}
	for i, l := range e.lines {
		for _, at := range lineEnds(l) {
			found := e.nearEnd(i, at)
			for n := range found {
				s := &found[n]
				ids, onFirst := e.pairOf(*s)
				s.crosses = slices.ContainsFunc(crossed[ids], func(c Crossing) bool { return e.goesBack(*s, c) })
				s.beside = slices.ContainsFunc(told[ids], func(b ParallelRun) bool { return b.covers(onFirst) })
			}
			joined := slices.ContainsFunc(found, func(s shortEnd) bool { return e.same(s) && (s.crosses || s.gap <= mostSeam) })
			for _, s := range found {
				seam := e.same(s) && s.gap > meets && s.gap <= mostSeam
				if !s.crosses && !s.beside && (seam || !joined) {
					all = append(all, s)
				}
			}
		}
	}
	return e.once(all)
}

// same says that both lines are of one utility.
func (e edges) same(s shortEnd) bool { return e.lines[s.line].Utility == e.lines[s.other].Utility }

// pairOf gives the two lines in their order, and where on the first the end is.
func (e edges) pairOf(s shortEnd) (ids [2]string, onFirst float64) {
	if s.other < s.line {
		return [2]string{e.lines[s.other].ID, e.lines[s.line].ID}, s.on
	}
	return [2]string{e.lines[s.line].ID, e.lines[s.other].ID}, s.at
}

// nearEnd finds the other lines near an end, each at its nearest place.
func (e edges) nearEnd(line int, at float64) (found []shortEnd) {
	place := e.lines[line].At(at)
	e.within(grown(boxOf(place, place), place, mostShort), func(i int) {
		s := e.all[i]
		o := e.lines[s.line]
		if s.line == line || slices.ContainsFunc(found, func(f shortEnd) bool { return f.other == s.line }) {
			return
		}
		if on, gap := o.Nearest(place); gap <= mostShort {
			found = append(found, shortEnd{line: line, other: s.line, at: at, on: on, gap: gap})
		}
	})
	slices.SortFunc(found, func(a, b shortEnd) int { return cmp.Compare(a.other, b.other) })
	return found
}

// goesBack says that from the end the line comes to the crossing without
// leaving the other: it does not stop short, it goes on a little.
func (e edges) goesBack(s shortEnd, c Crossing) bool {
	l, to := e.lines[s.line], c.StationsM[0]
	if c.Lines[0] != l.ID {
		to = c.StationsM[1]
	}
	way := l.stretch(min(s.at, to), max(s.at, to))
	return !slices.ContainsFunc(way, func(p orb.Point) bool {
		_, off := e.lines[s.other].Nearest(p)
		return off > mostShort
	})
}

// once leaves out the second of two ends that lie near one another.
func (e edges) once(all []shortEnd) []shortEnd {
	return slices.DeleteFunc(slices.Clone(all), func(s shortEnd) bool {
		return s.other < s.line && slices.ContainsFunc(all, func(o shortEnd) bool {
			return o.line == s.other && o.other == s.line && abs(o.at-s.on) <= mostShort && abs(o.on-s.at) <= mostShort
		})
	})
}

// findings tells of ends in words.
func (e edges) findings(ends []shortEnd, units string) (all []record.Finding) {
	in := record.LengthsIn(units)
	for _, s := range ends {
		l, o := e.lines[s.line], e.lines[s.other]
		one, other := called(l, o)
		say := words.Say("end.short", "one", one, "other", other, "gap", in(s.gap), "at", in(s.at), "on", in(s.on))
		switch ends := o.isEnd(s.on); {
		case ends && l.Overlay == o.Overlay && s.gap <= mostSeam:
			say += words.Say("end.seam")
		case ends:
			say += words.Say("end.of_both")
		default:
			say += words.Say("end.at_side")
		}
		all = append(all, record.NewFinding("end", record.Warning, l.ID, 0, say))
	}
	return all
}

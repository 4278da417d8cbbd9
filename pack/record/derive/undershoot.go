package derive

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/words"
)

// Limits of ends that stop short, in meters: the project's own choice, no source.
const (
	maxUndershoot = 1.0  // from an end to another line
	touching      = 1e-3 // what is no farther apart meets
	maxSeam       = 0.05 // between lines of one utility that are taken to be joined there
)

// undershoot is an end of a line near another line that it does not meet.
type undershoot struct {
	line, other int
	at, on      float64 // stations of the end on its line, and of the nearest place on the other
	gap         float64 // meters

	crosses bool // the line has crossed the other just before its end
	beside  bool // it runs beside the other there
}

// lineEnds are the ends of a line, by their stations: none where it closes, or
// is one reading.
func lineEnds(l Line) []float64 {
	first, last := l.Path[0], l.Path[len(l.Path)-1]
	if len(l.Path) < 2 || l.LengthM <= touching || edgeDistance(first, first, last, last) <= touching {
		return nil
	}
	return []float64{0, l.LengthM}
}

// undershoots finds the ends that lie near another line without meeting it. An
// end that is joined to a line of its utility continues there, so that only the gap
// between those two counts; an end beside a parallel run is covered by that.
func (e edgeIndex) undershoots(crossings []Crossing, runs []ParallelRun) (all []undershoot) {
	parallel := map[[2]string]ParallelRun{}
	for _, p := range runs {
		parallel[p.Lines] = p
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
				s.beside = parallel[ids].covers(onFirst)
			}
			joined := slices.ContainsFunc(found, func(s undershoot) bool { return e.same(s) && (s.crosses || s.gap <= maxSeam) })
			for _, s := range found {
				seam := e.same(s) && s.gap > touching && s.gap <= maxSeam
				if !s.crosses && !s.beside && (seam || !joined) {
					all = append(all, s)
				}
			}
		}
	}
	return e.once(all)
}

// same reports whether both lines are of one utility.
func (e edgeIndex) same(s undershoot) bool {
	return e.lines[s.line].Utility == e.lines[s.other].Utility
}

// pairOf gives the two lines in their order, and where on the first the end is.
func (e edgeIndex) pairOf(s undershoot) (ids [2]string, onFirst float64) {
	if s.other < s.line {
		return [2]string{e.lines[s.other].ID, e.lines[s.line].ID}, s.on
	}
	return [2]string{e.lines[s.line].ID, e.lines[s.other].ID}, s.at
}

// nearEnd finds the other lines near an end, each at its nearest place.
func (e edgeIndex) nearEnd(line int, at float64) (found []undershoot) {
	place := e.lines[line].At(at)
	for i := range e.in(grown(boxOf(place, place), place, maxUndershoot)) {
		other := e.all[i].line
		if other == line || slices.ContainsFunc(found, func(f undershoot) bool { return f.other == other }) {
			continue
		}
		if on, gap := e.lines[other].Nearest(place); gap <= maxUndershoot {
			found = append(found, undershoot{line: line, other: other, at: at, on: on, gap: gap})
		}
	}
	slices.SortFunc(found, func(a, b undershoot) int { return cmp.Compare(a.other, b.other) })
	return found
}

// goesBack reports whether the line comes from the end to the crossing without
// leaving the other line: it overshoots a little.
func (e edgeIndex) goesBack(s undershoot, c Crossing) bool {
	l, to := e.lines[s.line], c.StationsM[0]
	if c.Lines[0] != l.ID {
		to = c.StationsM[1]
	}
	way := l.between(min(s.at, to), max(s.at, to))
	return !slices.ContainsFunc(way, func(p orb.Point) bool {
		_, off := e.lines[s.other].Nearest(p)
		return off > maxUndershoot
	})
}

// once leaves out the second of two ends that lie near one another.
func (e edgeIndex) once(all []undershoot) []undershoot {
	return slices.DeleteFunc(slices.Clone(all), func(s undershoot) bool {
		return s.other < s.line && slices.ContainsFunc(all, func(o undershoot) bool {
			return o.line == s.other && o.other == s.line && math.Abs(o.at-s.on) <= maxUndershoot &&
				math.Abs(o.on-s.at) <= maxUndershoot
		})
	})
}

// findings describes ends in words.
func (e edgeIndex) findings(ends []undershoot, units string) (all []record.Finding) {
	in := record.LengthsIn(units)
	for _, s := range ends {
		l, o := e.lines[s.line], e.lines[s.other]
		one, other := pairNames(l, o)
		say := words.Say("end.short", "one", one, "other", other, "gap", in(s.gap), "at", in(s.at), "on", in(s.on))
		switch ends := o.isEnd(s.on); {
		case ends && l.Overlay == o.Overlay && s.gap <= maxSeam:
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

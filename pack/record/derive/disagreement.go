package derive

import (
	"cmp"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// Limits are the limits beyond which readings disagree. 0 takes the default;
// the defaults are the project's own choice, no source.
type Limits struct {
	Slope     float64 // rise over run; 0 = 0.2
	Jump      float64 // meters that a jump in depth has at least; 0 = 6 in
	Drop      float64 // part of the current lost from one reading to the next; 0 = 0.3
	Duplicate float64 // meters between two readings of one place; 0 = 0.05
	OffLine   float64 // meters from the line; 0 = 1
}

func (d Limits) withDefaults() Limits {
	return Limits{
		cmp.Or(d.Slope, 0.2), cmp.Or(d.Jump, 6*measure.Inch), cmp.Or(d.Drop, 0.3), cmp.Or(d.Duplicate, 0.05),
		cmp.Or(d.OffLine, 1),
	}
}

// disagreements finds neighboring readings of a line that do not fit together;
// findings write lengths in the units given, "" = us.
func disagreements(l Line, d Limits, units string) []record.Finding {
	d = d.withDefaults()
	var all []record.Finding
	in := record.LengthsIn(units)
	add := func(kind string, s Station, what string) {
		say := words.Say("finding.station", "station", in(s.AtM), "what", what)
		all = append(all, record.NewFinding(kind, record.Warning, l.ID, s.Line, say))
	}
	for i, s := range l.Stations {
		if off := l.aside(i); off > d.OffLine {
			add("off line", s, words.Say("finding.off_line", "off", in(off)))
		}
		if i == 0 {
			continue
		}
		p := l.Stations[i-1]
		if run := s.AtM - p.AtM; p.DepthM != nil && s.DepthM != nil {
			rise := math.Abs(*s.DepthM - *p.DepthM)
			if rise >= d.Jump && rise > d.Slope*run {
				add("depth jump", s, words.Say("finding.depth_jump", "rise", in(rise), "run", in(run)))
			} else if l.spike(i, d) {
				n := l.Stations[i+1]
				rise = min(rise, math.Abs(*s.DepthM-*n.DepthM))
				add("depth jump", s, words.Say("finding.depth_spike", "rise", in(rise), "run", in(n.AtM-p.AtM)))
			}
		}
		same := p.Hertz == nil || s.Hertz == nil || *p.Hertz == *s.Hertz
		if same && p.CurrentMA != nil && s.CurrentMA != nil && *s.CurrentMA < *p.CurrentMA*(1-d.Drop) {
			from, to := fmt.Sprintf("%.1f", *p.CurrentMA), fmt.Sprintf("%.1f", *s.CurrentMA)
			add("current drop", s, words.Say("finding.current_drop", "from", from, "to", to))
		}
	}
	return all
}

// spike reports whether a depth differs from both neighbors, to the same side, by
// twice a jump and by half of the slope: no line goes down and up again so soon.
func (l Line) spike(i int, d Limits) bool {
	if i == 0 || i == len(l.Stations)-1 || l.Stations[i+1].DepthM == nil {
		return false
	}
	p, s, n := l.Stations[i-1], l.Stations[i], l.Stations[i+1]
	before, after := *s.DepthM-*p.DepthM, *s.DepthM-*n.DepthM
	stands := func(rise, run float64) bool { return math.Abs(rise) >= 2*d.Jump && math.Abs(rise) > d.Slope/2*run }
	return before*after > 0 && stands(before, s.AtM-p.AtM) && stands(after, n.AtM-s.AtM)
}

// aside is how far a reading lies from its line. A line that was drawn through
// its readings is judged by the readings before and after: a spike is as far
// off as it is from both.
func (l Line) aside(i int) float64 {
	if l.Basis == "record" {
		return l.Stations[i].OffsetM
	}
	if i == 0 || i == len(l.Stations)-1 {
		return 0
	}
	p, a, b := l.Stations[i].Place, l.Stations[i-1].Place, l.Stations[i+1].Place
	// A bend of the line is not a reading that is off: there the way round is
	// not much longer than the way across.
	if geodesic.Distance(a, p)+geodesic.Distance(p, b) < 1.5*geodesic.Distance(a, b) {
		return 0
	}
	return toEdge(p, a, b)
}

// duplicates finds readings of one overlay at one place. A test hole where a
// locator read is no duplicate: it was dug to check. Findings write lengths in the
// units given, "" = us.
func duplicates(o record.Overlay, within float64, units string) []record.Finding {
	within = cmp.Or(within, Limits{}.withDefaults().Duplicate)
	var stations []Station
	for _, f := range o.Features {
		if _, ok := f.Geometry.(orb.Point); ok {
			stations = append(stations, newStation(f, 0, 0, o))
		}
	}
	index := newBoxIndex(len(stations), func(i int) rtree.Box { return boxOf(stations[i].Place, stations[i].Place) })
	var all []record.Finding
	for i, s := range stations {
		for j := range index.in(grown(boxOf(s.Place, s.Place), s.Place, within)) {
			if j < i && stations[j].TestHole == s.TestHole && geodesic.Distance(s.Place, stations[j].Place) <= within {
				say := words.Say("finding.duplicate", "one", readingName(s), "other", readingName(stations[j]),
					"within", record.LengthsIn(units)(within))
				all = append(all, record.NewFinding("duplicate", record.Warning, o.File, s.Line, say))
				break // once is enough
			}
		}
	}
	return all
}

func readingName(s Station) string {
	switch {
	case s.Label != "":
		return record.Quote(s.Label)
	case s.Line > 0:
		return words.Say("finding.reading_row", "n", s.Line)
	}
	return words.Say("finding.reading_place", "place", fmt.Sprintf("%.7f, %.7f", s.Place[1], s.Place[0]))
}

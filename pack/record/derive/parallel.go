package derive

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/words"
)

// ParallelRun is where two lines run within reach of one another. Lines in one
// trench meet at no one place, so no crossing tells of them. Lengths are metres.
type ParallelRun struct {
	Lines     [2]string           `json:"lines"` // IDs of [Line]
	Utilities [2]string           `json:"utilities"`
	StationsM [][2]float64        `json:"stations_m"` // of each stretch on the first line, from and to
	LengthM   float64             `json:"length_m"`   // of the stretches together
	LeastM    float64             `json:"least_m"`    // the least distance as recorded, center to center
	Path      orb.MultiLineString `json:"path"`       // the stretches on the first line, in degrees
	InArea    bool                `json:"in_area"`    // a stretch of one of the two lies in the dig area
	Relation  string              `json:"relation"`   // in words for people
	Rules     []Judgment          `json:"rules,omitempty"`
}

// MinParallelRun is the least length of a stretch beside another line, in metres:
// a shorter one is told by its crossing, if any. The project's own choice, no source.
const MinParallelRun = 2.0

// Limits of what counts as beside, in metres and radians: the project's own
// choice, no source.
const (
	leastBeside = 1.0                // reach of a pair at least, where little or nothing is stated
	mostBeside  = 5.0                // reach of a line at most: records off by more are beside everything
	gapBeside   = 2.0                // stretches of a pair nearer than this are one
	alongside   = 30 * math.Pi / 180 // between the directions of two edges
)

// pair is two lines, by their numbers in the list.
type pair struct{ a, b int }

// interval is where two lines are within reach of one another: stations on the
// first line, and their least distance.
type interval struct{ from, to, least float64 }

// nearness is how near a pair comes: along one another, and at edges that run
// across.
type nearness struct{ along, across []interval }

// reaches says how near two lines must be to be beside one another.
type reaches struct {
	lines []Line
	rules []Rule
	own   []float64 // of each line: its zone and stated accuracy, or half its width where no rule is stated
	off   []float64 // of each line: half its width and stated accuracy
	most  float64   // that two lines can have
}

func reachesOf(lines []Line, zones []Zone, rules []Rule) reaches {
	r := reaches{lines, rules, make([]float64, len(lines)), make([]float64, len(lines)), 0}
	widest, asked := 0.0, 0.0
	for i, l := range lines {
		r.off[i] = orZero(l.HalfWidthM) + orZero(l.AccuracyM)
		own := r.off[i]
		if zones[i].ReachM > 0 {
			own = zones[i].ReachM + orZero(l.AccuracyM)
		}
		r.own[i] = min(max(own, leastBeside/2), mostBeside)
		r.off[i] = min(r.off[i], mostBeside)
		widest = max(widest, r.own[i], r.off[i])
	}
	for _, rule := range rules {
		if rule.Horizontal != nil {
			asked = max(asked, rule.Horizontal.M)
		}
	}
	r.most = 2*widest + asked
	return r
}

// of gives the reach of a pair: as far as a rule of clearance may be broken
// within what is stated, if that is more.
func (r reaches) of(a, b int) float64 {
	reach := r.own[a] + r.own[b]
	for _, rule := range r.rules {
		if rule.Horizontal != nil && rule.concerns(r.lines[a].Utility, r.lines[b].Utility) {
			reach = max(reach, rule.Horizontal.M+r.off[a]+r.off[b])
		}
	}
	return reach
}

// beside finds lines that run within reach of one another, and what the rules
// of clearance say of them; the longest first. zones are one a line.
func (e edgeIndex) beside(zones []Zone, opts Options) []ParallelRun {
	reach := reachesOf(e.lines, zones, opts.Rules)
	found := map[pair]*nearness{}
	for i, s := range e.all {
		a := e.lines[s.line]
		for j := range e.in(grown(s.box, a.Path[s.edge], reach.most)) {
			o := e.all[j]
			if j <= i || o.line == s.line {
				continue
			}
			at, along, ok := a.near(s.edge, e.lines[o.line], o.edge, reach.of(s.line, o.line))
			if !ok {
				continue
			}
			p := pair{s.line, o.line}
			n := found[p]
			if n == nil {
				n = &nearness{}
				found[p] = n
			}
			if along {
				n.along = append(n.along, at)
			} else {
				n.across = append(n.across, at)
			}
		}
	}
	all := []ParallelRun{}
	for p, n := range found {
		if b, ok := n.join(e.lines[p.a], e.lines[p.b], opts); ok {
			all = append(all, b)
		}
	}
	slices.SortFunc(all, func(a, b ParallelRun) int {
		return cmp.Or(cmp.Compare(b.LengthM, a.LengthM), slices.Compare(a.Lines[:], b.Lines[:]))
	})
	return all
}

// near gives the part of an edge that has another edge within reach square to
// it: along the edge the foot and the offset change evenly, so that it is one
// interval. Of an edge that runs across it gives the nearest place.
func (l Line) near(e int, o Line, f int, reach float64) (at interval, along, ok bool) {
	frame := geodesic.At(l.Path[e-1])
	b, c, d := frame.Metres(l.Path[e]), frame.Metres(o.Path[f-1]), frame.Metres(o.Path[f])
	long := math.Hypot(b[0], b[1])
	if long == 0 {
		return interval{}, false, false
	}
	turned := func(p orb.Point) orb.Point { // the edge lies on the first axis
		return orb.Point{(p[0]*b[0] + p[1]*b[1]) / long, (p[1]*b[0] - p[0]*b[1]) / long}
	}
	c, d = turned(c), turned(d)
	if c[0] > d[0] {
		c, d = d, c
	}
	if c[0] == d[0] || math.Atan2(math.Abs(d[1]-c[1]), d[0]-c[0]) > alongside {
		x, far := nearest(0, long, c, d)
		return interval{l.at[e-1] + x, l.at[e-1] + x, far}, false, far <= reach
	}
	from, to := max(c[0], 0), min(d[0], long)
	if slope := (d[1] - c[1]) / (d[0] - c[0]); slope != 0 { // |y0 + slope·(x−x0)| ≤ reach
		lo, hi := c[0]+(-reach-c[1])/slope, c[0]+(reach-c[1])/slope
		from, to = max(from, min(lo, hi)), min(to, max(lo, hi))
	} else if math.Abs(c[1]) > reach {
		return interval{}, false, false
	}
	if to <= from {
		return interval{}, false, false
	}
	_, far := nearest(from, to, c, d)
	return interval{l.at[e-1] + from, l.at[e-1] + to, far}, true, true
}

// nearest gives the place between two on the first axis that is nearest to an
// edge, and how far that is.
func nearest(from, to float64, c, d orb.Point) (at, far float64) {
	far = math.Inf(1)
	try := func(x, metres float64) {
		if metres < far {
			at, far = x, metres
		}
	}
	if c[1]*d[1] < 0 {
		if x := c[0] + (d[0]-c[0])*c[1]/(c[1]-d[1]); x >= from && x <= to {
			return x, 0
		}
	}
	for _, p := range []orb.Point{c, d} {
		x := min(max(p[0], from), to)
		try(x, math.Hypot(p[0]-x, p[1]))
	}
	for _, x := range []float64{from, to} {
		_, metres := nearestOnEdge(orb.Point{x, 0}, c, d)
		try(x, metres)
	}
	return at, far
}

// join makes stretches of what was found of a pair; ok is false where none is
// long enough.
func (n nearness) join(a, b Line, opts Options) (out ParallelRun, ok bool) {
	slices.SortFunc(n.along, func(s, t interval) int { return cmp.Compare(s.from, t.from) })
	out = ParallelRun{
		Lines: [2]string{a.ID, b.ID}, Utilities: [2]string{a.Utility, b.Utility},
		LeastM: math.Inf(1), Relation: words.Say("beside.relation"),
	}
	for i := 0; i < len(n.along); {
		s := n.along[i]
		for i++; i < len(n.along) && n.along[i].from-s.to < gapBeside; i++ {
			s.to, s.least = max(s.to, n.along[i].to), min(s.least, n.along[i].least)
		}
		if s.to-s.from >= MinParallelRun {
			out.StationsM = append(out.StationsM, [2]float64{s.from, s.to})
			out.Path = append(out.Path, a.between(s.from, s.to))
			out.LengthM, out.LeastM = out.LengthM+s.to-s.from, min(out.LeastM, s.least)
		}
	}
	if len(out.StationsM) == 0 {
		return out, false
	}
	if a.Utility == b.Utility {
		out.Relation += words.Say("beside.same")
	}
	out.judge(a, b, n.across, opts)
	return out, true
}

// covers says that a station of the first line lies on a stretch.
func (b ParallelRun) covers(station float64) bool {
	return slices.ContainsFunc(b.StationsM, func(s [2]float64) bool { return station > s[0]-atReading && station < s[1]+atReading })
}

// enters says that a stretch of one of the two lines is inside an area, given
// what of each is.
func (b ParallelRun) enters(second Line, inside [2][][2]float64) bool {
	meets := func(from, to float64, spans [][2]float64) bool {
		return slices.ContainsFunc(spans, func(s [2]float64) bool { return max(s[0], from) < min(s[1], to) })
	}
	for i, s := range b.StationsM {
		if meets(s[0], s[1], inside[0]) {
			return true
		}
		if path := b.Path[i]; len(inside[1]) > 0 {
			from, _ := second.Nearest(path[0])
			to, _ := second.Nearest(path[len(path)-1])
			if meets(min(from, to), max(from, to), inside[1]) {
				return true
			}
		}
	}
	return false
}

// Text tells of the stretches in words; lengths are in the units given.
func (b ParallelRun) Text(first, second, units string) string {
	in := record.LengthsIn(units)
	say := words.Say("beside.runs", "one", first, "other", second, "length", in(b.LengthM), "station", in(b.StationsM[0][0]), "least", in(b.LeastM))
	if b.Utilities[0] == b.Utilities[1] {
		say += words.Say("beside.same")
	}
	return say
}

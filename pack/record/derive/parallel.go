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
// trench meet at no one place, so they have no crossing. Lengths are meters.
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

// MinParallelRun is the least length of a stretch, in meters: a shorter one is
// covered by its crossing, if any. The project's own choice, no source.
const MinParallelRun = 2.0

// Limits of parallel runs, in meters and radians: the project's own choice, no
// source.
const (
	minReach = 1.0                // of a pair, where little or nothing is stated
	maxReach = 5.0                // of a line: records off by more are beside everything
	maxGap   = 2.0                // stretches of a pair nearer than this are one
	maxAngle = 30 * math.Pi / 180 // between the directions of two edges
)

// pair is two lines, by their numbers in the list.
type pair struct{ a, b int }

// interval is where two lines are within reach of one another: stations on the
// first line, and their least distance.
type interval struct{ from, to, least float64 }

// closeness is where a pair is within reach: along one another, and at edges that
// run across.
type closeness struct{ along, across []interval }

// reaches says how near two lines must be to run parallel.
type reaches struct {
	lines []Line
	rules []Rule
	own   []float64 // of each line: its zone and stated accuracy, or half its width where no zone is asked for
	off   []float64 // of each line: half its width and stated accuracy
	most  float64   // of any pair
}

func newReaches(lines []Line, zones []Zone, rules []Rule) reaches {
	r := reaches{lines, rules, make([]float64, len(lines)), make([]float64, len(lines)), 0}
	widest, asked := 0.0, 0.0
	for i, l := range lines {
		r.off[i] = orZero(l.HalfWidthM) + orZero(l.AccuracyM)
		own := r.off[i]
		if zones[i].ReachM > 0 {
			own = zones[i].ReachM + orZero(l.AccuracyM)
		}
		r.own[i] = min(max(own, minReach/2), maxReach)
		r.off[i] = min(r.off[i], maxReach)
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

// of gives the reach of a pair: as far as a clearance rule may be broken within
// what is stated, if that is more.
func (r reaches) of(a, b int) float64 {
	reach := r.own[a] + r.own[b]
	for _, rule := range r.rules {
		if rule.Horizontal != nil && rule.concerns(r.lines[a].Utility, r.lines[b].Utility) {
			reach = max(reach, rule.Horizontal.M+r.off[a]+r.off[b])
		}
	}
	return reach
}

// parallelRuns finds lines that run within reach of one another, and judges their
// clearance; the longest first. There is one zone for each line.
func (e edgeIndex) parallelRuns(zones []Zone, opts Options) []ParallelRun {
	reach := newReaches(e.lines, zones, opts.Rules)
	found := map[pair]*closeness{}
	for i, s := range e.all {
		a := e.lines[s.line]
		for j := range e.in(grown(s.box, a.Path[s.edge], reach.most)) {
			o := e.all[j]
			if j <= i || o.line == s.line {
				continue
			}
			at, along, ok := a.closeTo(s.edge, e.lines[o.line], o.edge, reach.of(s.line, o.line))
			if !ok {
				continue
			}
			p := pair{s.line, o.line}
			if found[p] == nil {
				found[p] = &closeness{}
			}
			if along {
				found[p].along = append(found[p].along, at)
			} else {
				found[p].across = append(found[p].across, at)
			}
		}
	}
	all := []ParallelRun{}
	for p, c := range found {
		if run, ok := c.join(e.lines[p.a], e.lines[p.b], opts); ok {
			all = append(all, run)
		}
	}
	slices.SortFunc(all, func(a, b ParallelRun) int {
		return cmp.Or(cmp.Compare(b.LengthM, a.LengthM), slices.Compare(a.Lines[:], b.Lines[:]))
	})
	return all
}

// closeTo gives the part of an edge that has another edge within reach square to
// it: along the edge the foot and the offset change evenly, so that it is one
// interval. Of an edge that runs across it gives the nearest place.
func (l Line) closeTo(edge int, o Line, other int, reach float64) (at interval, along, ok bool) {
	frame := geodesic.At(l.Path[edge-1])
	b, c, d := frame.Meters(l.Path[edge]), frame.Meters(o.Path[other-1]), frame.Meters(o.Path[other])
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
	start := l.at[edge-1]
	if c[0] == d[0] || math.Atan2(math.Abs(d[1]-c[1]), d[0]-c[0]) > maxAngle {
		x, far := nearestOnAxis(0, long, c, d)
		return interval{start + x, start + x, far}, false, far <= reach
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
	_, far := nearestOnAxis(from, to, c, d)
	return interval{start + from, start + to, far}, true, true
}

// nearestOnAxis gives the place between two on the first axis that is nearest to
// an edge, and how far that is.
func nearestOnAxis(from, to float64, c, d orb.Point) (at, far float64) {
	if c[1]*d[1] < 0 {
		if x := c[0] + (d[0]-c[0])*c[1]/(c[1]-d[1]); x >= from && x <= to {
			return x, 0
		}
	}
	far = math.Inf(1)
	try := func(x, meters float64) {
		if meters < far {
			at, far = x, meters
		}
	}
	for _, p := range []orb.Point{c, d} {
		x := min(max(p[0], from), to)
		try(x, math.Hypot(p[0]-x, p[1]))
	}
	for _, x := range []float64{from, to} {
		_, meters := nearestOnEdge(orb.Point{x, 0}, c, d)
		try(x, meters)
	}
	return at, far
}

// join makes stretches of the intervals of a pair; ok is false where none is long
// enough.
func (n closeness) join(a, b Line, opts Options) (p ParallelRun, ok bool) {
	slices.SortFunc(n.along, func(s, t interval) int { return cmp.Compare(s.from, t.from) })
	p = ParallelRun{
		Lines: [2]string{a.ID, b.ID}, Utilities: [2]string{a.Utility, b.Utility},
		LeastM: math.Inf(1), Relation: words.Say("beside.relation"),
	}
	for i := 0; i < len(n.along); {
		s := n.along[i]
		for i++; i < len(n.along) && n.along[i].from-s.to < maxGap; i++ {
			s.to, s.least = max(s.to, n.along[i].to), min(s.least, n.along[i].least)
		}
		if s.to-s.from >= MinParallelRun {
			p.StationsM = append(p.StationsM, [2]float64{s.from, s.to})
			p.Path = append(p.Path, a.between(s.from, s.to))
			p.LengthM, p.LeastM = p.LengthM+s.to-s.from, min(p.LeastM, s.least)
		}
	}
	if len(p.StationsM) == 0 {
		return p, false
	}
	if a.Utility == b.Utility {
		p.Relation += words.Say("beside.same")
	}
	p.judge(a, b, n.across, opts)
	return p, true
}

// covers reports whether a station of the first line lies on a stretch.
func (p ParallelRun) covers(station float64) bool {
	return slices.ContainsFunc(p.StationsM,
		func(s [2]float64) bool { return station > s[0]-atReading && station < s[1]+atReading })
}

// enters reports whether a stretch of one of the two lines is inside an area,
// given the stations of each that are.
func (p ParallelRun) enters(second Line, inside [2][][2]float64) bool {
	overlap := func(from, to float64, spans [][2]float64) bool {
		return slices.ContainsFunc(spans, func(s [2]float64) bool { return max(s[0], from) < min(s[1], to) })
	}
	for i, s := range p.StationsM {
		if overlap(s[0], s[1], inside[0]) {
			return true
		}
		if path := p.Path[i]; len(inside[1]) > 0 {
			from, _ := second.Nearest(path[0])
			to, _ := second.Nearest(path[len(path)-1])
			if overlap(min(from, to), max(from, to), inside[1]) {
				return true
			}
		}
	}
	return false
}

// Text describes the stretches in words; lengths are in the units given.
func (p ParallelRun) Text(first, second, units string) string {
	in := record.LengthsIn(units)
	say := words.Say("beside.runs", "one", first, "other", second,
		"length", in(p.LengthM), "station", in(p.StationsM[0][0]), "least", in(p.LeastM))
	if p.Utilities[0] == p.Utilities[1] {
		say += words.Say("beside.same")
	}
	return say
}

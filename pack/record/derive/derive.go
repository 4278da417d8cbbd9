// Package derive derives from the records under a dig area what none of them
// states alone: lines with their readings, depths, tolerance zones, entries into
// the area, crossings, parallel runs, judgments of clearance rules, statistics and
// findings. Each result carries the limits of the data behind it.
package derive

import (
	"cmp"
	"runtime"
	"sync"
	"sync/atomic"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// Options for [From]. The zero value makes no zones and takes every other default.
type Options struct {
	EachSide    float64 // meters each side of a line's edge, by the rule the job states; 0 = no zones
	Uncertainty bool    // draw the record's own uncertainty round the zone too
	Gap         float64 // meters between readings across which a depth is interpolated; 0 = [MostGap]
	Limits      Limits  // beyond which readings disagree
	Rules       []Rule  // of clearance, as the job states them

	record.SanityOptions // limits of plausible records, and the units of every length in words
}

// MostGap is the largest gap of readings, in meters, across which a depth is
// interpolated when nothing is stated: the longest distance between an operator's
// marks in CGA's uniform marking (50 ft), rounded down.
const MostGap = 15

// Result is all that is derived from a job's records. It can be written as JSON;
// lists are never null, except ParallelRuns of a pack that was written without.
type Result struct {
	Lines        []Line           `json:"lines"`
	Zones        []Zone           `json:"zones"` // one for each line, or none at all
	Entries      []Entry          `json:"entries"`
	Crossings    []Crossing       `json:"crossings"`
	ParallelRuns []ParallelRun    `json:"beside"`
	Statistics   []Statistics     `json:"statistics"`
	Findings     []record.Finding `json:"findings"`
}

// From derives the result for a dig area, given as its outline in degrees; without
// one there are no entries, and nothing is checked for plausibility.
func From(overlays []record.Overlay, area orb.MultiPolygon, opts Options) Result {
	opts.Gap = cmp.Or(opts.Gap, MostGap)
	k := Result{Lines: []Line{}, Zones: []Zone{}, Entries: []Entry{}, Findings: []record.Finding{}}
	find := func(found []record.Finding) { k.Findings = append(k.Findings, found...) }
	for _, o := range overlays {
		lines, findings := makeLines(o, opts.Units)
		k.Lines = append(k.Lines, lines...)
		find(o.Findings)
		if len(area) > 0 {
			find(record.CheckSanity(o, area.Bound(), opts.SanityOptions))
		}
		find(findings)
		find(duplicates(o, opts.Limits.Duplicate, opts.Units))
	}
	zones := make([]Zone, len(k.Lines))
	for i, l := range k.Lines {
		find(disagreements(l, opts.Limits, opts.Units))
		zones[i].UncertaintyM = l.AccuracyM
	}
	if opts.EachSide > 0 {
		makeZones(zones, k.Lines, opts)
		k.Zones = zones
		find(tangles(k.Lines, zones))
	}
	if len(area) > 0 {
		k.Entries = entries(k.Lines, zones, area)
	}
	k.derivePairs(overlays, zones, newAreaIndex(area), opts)
	k.Statistics = statistics(overlays, k.Lines)
	return k
}

// derivePairs finds how lines lie to one another: where they cross, run parallel,
// or stop just short.
func (k *Result) derivePairs(overlays []record.Overlay, zones []Zone, area areaIndex, opts Options) {
	e := newEdgeIndex(k.Lines)
	byID := linesByID(k.Lines)
	inside := map[string][][2]float64{}
	for _, entry := range k.Entries {
		inside[entry.Line] = entry.Inside
	}
	var all bool
	k.Crossings, all = e.crossings(opts.Gap)
	for i := range k.Crossings {
		c := &k.Crossings[i]
		c.InArea = area.contains(c.Place)
		c.judge(byID[c.Lines[0]], byID[c.Lines[1]], opts)
	}
	addNearReadings(k.Crossings, byID, overlays)
	if !all {
		k.ParallelRuns = []ParallelRun{}
		k.Findings = append(k.Findings, e.tooMany(k.Crossings))
		return
	}
	k.ParallelRuns = e.parallelRuns(zones, opts)
	for i := range k.ParallelRuns {
		p := &k.ParallelRuns[i]
		p.InArea = p.enters(byID[p.Lines[1]], [2][][2]float64{inside[p.Lines[0]], inside[p.Lines[1]]})
	}
	k.Findings = append(k.Findings, e.findings(e.undershoots(k.Crossings, k.ParallelRuns), opts.Units)...)
}

// makeZones makes the zones of lines on all cores: joining their parts is most of
// the work.
func makeZones(zones []Zone, lines []Line, opts Options) {
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(lines)) {
		all.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(lines)); i = next.Add(1) - 1 {
				zones[i] = newZone(lines[i], opts.EachSide, opts.Uncertainty)
			}
		})
	}
	all.Wait()
}

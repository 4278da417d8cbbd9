// Package derive derives from the records under a dig area what none of them
// states alone: lines with their readings, depths, tolerance zones, entries into
// the area, crossings, parallel runs, verdicts on clearance rules, statistics and
// findings. Each result carries the limits of the data behind it.
package derive

import (
	"runtime"
	"sync"
	"sync/atomic"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
)

// Options say how [From] looks at records. The zero value makes no zones
// and takes every other default.
type Options struct {
	EachSide    float64 // metres each side of a line's edge, by the rule the job states; 0 = no zones
	Uncertainty bool    // draw the record's own uncertainty round the zone too
	Gap         float64 // metres between readings over which a depth is still worked out; 0 = 15
	Limits      Limits  // limits beyond which readings disagree

	record.SanityOptions        // limits of plausible records, and the units of every length in words
	Rules                []Rule // of clearance, as the job states them
}

// MostGap is the largest gap of readings a depth is worked out over when
// nothing is stated: 15 m, the longest distance between an operator's marks
// in CGA's uniform marking (50 ft), rounded down.
const MostGap = 15

// Result is all that is worked out of a job's records. It can be written as
// JSON; lists are never null, but for Beside of a pack that does not tell.
type Result struct {
	Lines        []Line           `json:"lines"`
	Zones        []Zone           `json:"zones"` // one a line, or none at all
	Entries      []Entry          `json:"entries"`
	Crossings    []Crossing       `json:"crossings"`
	ParallelRuns []ParallelRun    `json:"beside"`
	Statistics   []Statistics     `json:"statistics"`
	Findings     []record.Finding `json:"findings"`
}

// From works out what is known under a dig area, given as its outline in
// degrees: lines with their readings, zones, what enters the area, crossings,
// statistics, and what looks wrong.
func From(overlays []record.Overlay, area orb.MultiPolygon, opts Options) Result {
	if opts.Gap == 0 {
		opts.Gap = MostGap
	}
	k := Result{Lines: []Line{}, Zones: []Zone{}, Entries: []Entry{}, Findings: []record.Finding{}}
	for _, o := range overlays {
		lines, findings := Lines(o, opts.Units)
		k.Lines = append(k.Lines, lines...)
		k.Findings = append(k.Findings, o.Findings...)
		if len(area) > 0 {
			k.Findings = append(k.Findings, record.CheckSanity(o, area.Bound(), opts.SanityOptions)...)
		}
		k.Findings = append(k.Findings, findings...)
		k.Findings = append(k.Findings, Duplicates(o, opts.Limits.Duplicate, opts.Units)...)
	}
	bare := make([]Zone, len(k.Lines))
	for i, l := range k.Lines {
		k.Findings = append(k.Findings, Disagreements(l, opts.Limits, opts.Units)...)
		bare[i].UncertaintyM = l.AccuracyM
	}
	if opts.EachSide > 0 {
		k.Zones = zonesOf(k.Lines, bare, opts)
	}
	if len(area) > 0 {
		k.Entries = Entries(k.Lines, bare, area)
	}
	k.pairs(overlays, bare, newAreaIndex(area), opts)
	k.Statistics = StatisticsOf(overlays, k.Lines)
	return k
}

// pairs finds what lines are to one another: where they cross, run beside one
// another, or stop just short.
func (k *Result) pairs(overlays []record.Overlay, zones []Zone, s areaIndex, opts Options) {
	e := newEdgeIndex(k.Lines)
	byID := linesByID(k.Lines)
	inside := map[string][][2]float64{}
	for _, entry := range k.Entries {
		inside[entry.Line] = entry.Inside
	}
	k.Crossings = e.crossings(opts.Gap)
	for i := range k.Crossings {
		c := &k.Crossings[i]
		c.InArea = s.contains(c.Place)
		c.judge(byID[c.Lines[0]], byID[c.Lines[1]], opts)
	}
	addNearReadings(k.Crossings, byID, overlays)
	k.ParallelRuns = e.beside(zones, opts)
	for i := range k.ParallelRuns {
		b := &k.ParallelRuns[i]
		b.InArea = b.enters(byID[b.Lines[1]], [2][][2]float64{inside[b.Lines[0]], inside[b.Lines[1]]})
	}
	k.Findings = append(k.Findings, e.findings(e.undershoots(k.Crossings, k.ParallelRuns), opts.Units)...)
}

// zonesOf fills in the zones of the lines, on all cores: joining their parts
// is most of the work.
func zonesOf(lines []Line, zones []Zone, opts Options) []Zone {
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(lines)) {
		all.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(lines)); i = next.Add(1) - 1 {
				zones[i] = ZoneOf(lines[i], opts.EachSide, opts.Uncertainty)
			}
		})
	}
	all.Wait()
	return zones
}

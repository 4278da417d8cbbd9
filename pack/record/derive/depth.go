package derive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/record"
)

// Depth is the depth of a line at a place, with what it rests on.
type Depth struct {
	M        *float64 `json:"m"`        // metres; nil = unknown
	Basis    string   `json:"basis"`    // "reading", [TestHole], "between readings", "record", "unknown"
	GapM     float64  `json:"gap_m"`    // between the two readings, for "between readings"
	Of       string   `json:"of"`       // what of the line it is the depth of: [Top], [Center], [Bottom]; "" = not stated
	DoubtM   *float64 `json:"doubt_m"`  // how far off it may be, as recorded; nil = not stated
	Level    string   `json:"level"`    // quality level of what it rests on, the lesser of two; "" = not stated
	Recorded string   `json:"recorded"` // date of what it rests on, the older of two; "" = not stated
	Mixed    bool     `json:"mixed"`    // between readings of unlike levels, or more than ten years apart
	AlsoM    *float64 `json:"also_m"`   // the deepest that another reading at the same place gives, where they differ

	Near *NearReading `json:"near,omitempty"` // at a crossing where M is unknown; nil = none near
}

// What a depth is measured to. An invert is the bottom of the inside: how thick
// the wall is below it is not known.
const (
	Top    = "top"
	Center = "center"
	Bottom = "bottom"
)

// reference understands the words of a record for what a depth is measured to;
// "" for words that are none of these.
func reference(words string) string {
	first, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(words)), " ")
	switch first {
	case "top", "crown", "cover", "obvert", "soffit":
		return Top
	case "center", "centre", "centerline", "centreline", "axis", "middle":
		return Center
	case "bottom", "invert", "base", "flowline":
		return Bottom
	}
	return ""
}

// of is what a reading's depth is measured to: what is stated, else the center
// of the signal where one was read (common practice with electromagnetic
// locators; no source).
func (s Station) of() string {
	if s.DepthOf == "" && (s.CurrentMA != nil || s.Hertz != nil) {
		return Center
	}
	return reference(s.DepthOf)
}

// atReading is how near a reading has to be for its depth to be taken as it
// stands, in metres.
const atReading = 0.05

// DepthAt is the depth at a station in metres: at a reading as read, between
// two readings at most gap metres apart in proportion, else as recorded for
// the whole line, else unknown. Of readings at one place that differ the
// shallower leads. It is never carried on beyond the last reading, never over a
// reading without a depth, never between depths of different parts of the line
// and never from a test hole. A reading too far from its line says nothing.
func (l Line) DepthAt(station, gap float64) Depth {
	i, _ := slices.BinarySearchFunc(l.Stations, station, func(s Station, at float64) int {
		if s.AtM < at {
			return -1
		}
		return 1
	})
	before, after := l.speaking(i-1, -1), l.speaking(i, 1)
	here := slices.DeleteFunc(slices.Concat(l.cluster(before), l.cluster(after)), func(s Station) bool {
		return s.DepthM == nil || abs(s.AtM-station) > atReading
	})
	if len(here) > 0 {
		return leading(here).depth()
	}
	if before >= 0 && after >= 0 {
		if d, ok := between(l.cluster(before), l.cluster(after), station, gap); ok {
			return d
		}
	}
	if l.DepthM != nil {
		return Depth{M: l.DepthM, Basis: "record", Of: reference(l.DepthOf), DoubtM: l.DepthDoubtM, Level: l.QualityLevel, Recorded: l.Recorded}
	}
	return Depth{Basis: "unknown"}
}

// speaking is the first reading from i on, by steps of 1 or -1, that lies near
// enough to the line to tell its depth; -1 when there is none.
func (l Line) speaking(i, step int) int {
	for ; i >= 0 && i < len(l.Stations); i += step {
		if l.reaches(l.Stations[i]) {
			return i
		}
	}
	return -1
}

// cluster gives the readings at the place of one, itself among them.
func (l Line) cluster(i int) (all []Station) {
	if i < 0 {
		return nil
	}
	from, to := i, i+1
	for ; from > 0 && l.Stations[i].AtM-l.Stations[from-1].AtM <= atReading; from-- {
	}
	for ; to < len(l.Stations) && l.Stations[to].AtM-l.Stations[i].AtM <= atReading; to++ {
	}
	for _, s := range l.Stations[from:to] {
		if l.reaches(s) {
			all = append(all, s)
		}
	}
	return all
}

// lead is a reading's depth beside what others at its place say.
type lead struct {
	Station
	also *float64
}

// leading takes the shallowest of readings at one place, all with a depth.
func leading(here []Station) lead {
	least := slices.MinFunc(here, byDepth)
	most := slices.MaxFunc(here, byDepth)
	if *most.DepthM > *least.DepthM {
		return lead{least, most.DepthM}
	}
	return lead{least, nil}
}

func byDepth(a, b Station) int {
	switch {
	case *a.DepthM < *b.DepthM:
		return -1
	case *a.DepthM > *b.DepthM:
		return 1
	}
	return 0
}

func (s lead) depth() Depth {
	basis := "reading"
	if s.TestHole {
		basis = record.TestHole
	}
	return Depth{M: s.DepthM, Basis: basis, Of: s.of(), DoubtM: s.DepthDoubtM, Level: s.QualityLevel, Recorded: s.Recorded, AlsoM: s.also}
}

// between works out a depth in proportion from the readings on both sides.
func between(before, after []Station, station, gap float64) (Depth, bool) {
	silent := func(s Station) bool { return s.DepthM == nil }
	if slices.ContainsFunc(before, silent) || slices.ContainsFunc(after, silent) {
		return Depth{}, false
	}
	a, b := leading(before).Station, leading(after).Station
	apart := b.AtM - a.AtM
	if !(apart > 0 && apart <= gap) || a.of() != b.of() || a.isExposed() || b.isExposed() {
		return Depth{}, false
	}
	m := *a.DepthM + (*b.DepthM-*a.DepthM)*(station-a.AtM)/apart
	return Depth{
		M: &m, Basis: "between readings", GapM: apart, Of: a.of(), DoubtM: larger(a.DepthDoubtM, b.DepthDoubtM),
		Level: lesser(levelOf(a), levelOf(b)), Recorded: older(a.Recorded, b.Recorded),
		Mixed: levelOf(a) != levelOf(b) || decadeApart(a.Recorded, b.Recorded),
	}, true
}

// isExposed says that a depth is a fact of one place, by its kind or its level.
func (s Station) isExposed() bool { return s.TestHole || levelOf(s) == record.LevelA }

// levelOf is "" where the words are none of A to D: they claim nothing.
func levelOf(s Station) string {
	if level, ok := record.Level(s.QualityLevel); ok {
		return level
	}
	return ""
}

// lesser is the level that claims less; one that is not stated claims least.
func lesser(a, b string) string {
	if a == "" || b == "" {
		return ""
	}
	return max(a, b)
}

// older is the earlier of two dates; "" where one is not stated.
func older(a, b string) string {
	if a == "" || b == "" {
		return ""
	}
	return min(a, b)
}

// decadeApart says that two stated dates are more than ten years apart, or
// that only one is stated.
func decadeApart(a, b string) bool {
	if a == "" || b == "" {
		return a != b
	}
	first, later := min(a, b), max(a, b)
	year, err := strconv.Atoi(first[:min(4, len(first))])
	return err != nil || len(first) < 4 || later > fmt.Sprintf("%04d%s", year+10, first[4:])
}

func larger(a, b *float64) *float64 {
	switch {
	case a == nil:
		return b
	case b == nil || *a > *b:
		return a
	}
	return b
}

func abs(v float64) float64 { return max(v, -v) }

package derive

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"groundsheet/pack/record"
)

// Depth is the depth of a line at a place, with what it rests on.
type Depth struct {
	M        *float64 `json:"m"`        // meters; nil = unknown
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

// part is what a reading's depth is measured to: what is stated, else the center
// of the signal where one was read (common practice with electromagnetic
// locators; no source).
func (s Station) part() string {
	if s.DepthOf == "" && (s.CurrentMA != nil || s.Hertz != nil) {
		return Center
	}
	return reference(s.DepthOf)
}

// atReading is how near a reading has to be for its depth to be taken unchanged,
// in meters.
const atReading = 0.05

// depthAt is the depth at a station in meters: at a reading as read, between two
// readings at most gap meters apart interpolated, else as recorded for the whole
// line, else unknown. Of readings at one place that differ the shallower counts. A
// depth is never extrapolated beyond the last reading, nor interpolated across a
// reading without a depth, between depths of different parts of the line, or from a
// test hole. A reading too far from its line is ignored.
func (l Line) depthAt(station, gap float64) Depth {
	i, _ := slices.BinarySearchFunc(l.Stations, station, func(s Station, at float64) int { return cmp.Compare(s.AtM, at) })
	before, after := l.readingsAt(l.nextReliable(i-1, -1)), l.readingsAt(l.nextReliable(i, 1))
	here := slices.DeleteFunc(slices.Concat(before, after), func(s Station) bool {
		return s.DepthM == nil || math.Abs(s.AtM-station) > atReading
	})
	if len(here) > 0 {
		return depthAtReadings(here)
	}
	if len(before) > 0 && len(after) > 0 {
		if d, ok := interpolate(before, after, station, gap); ok {
			return d
		}
	}
	if l.DepthM != nil {
		return Depth{M: l.DepthM, Basis: "record", Of: reference(l.DepthOf), DoubtM: l.DepthDoubtM,
			Level: l.QualityLevel, Recorded: l.Recorded}
	}
	return Depth{Basis: "unknown"}
}

// nextReliable is the first reading from i on, by steps of 1 or -1, that lies near
// enough to the line to give its depth; -1 when there is none.
func (l Line) nextReliable(i, step int) int {
	for ; i >= 0 && i < len(l.Stations); i += step {
		if l.reaches(l.Stations[i]) {
			return i
		}
	}
	return -1
}

// readingsAt gives the readings at the place of one, itself among them.
func (l Line) readingsAt(i int) (all []Station) {
	if i < 0 {
		return nil
	}
	from, to := i, i+1
	for ; from > 0 && l.Stations[i].AtM-l.Stations[from-1].AtM <= atReading; from-- {
	}
	for ; to < len(l.Stations) && l.Stations[to].AtM-l.Stations[i].AtM <= atReading; to++ {
	}
	return slices.DeleteFunc(slices.Clone(l.Stations[from:to]), func(s Station) bool { return !l.reaches(s) })
}

func byDepth(a, b Station) int { return cmp.Compare(*a.DepthM, *b.DepthM) }

// depthAtReadings is the shallowest depth of readings at one place, all with a
// depth.
func depthAtReadings(here []Station) Depth {
	s := slices.MinFunc(here, byDepth)
	d := Depth{M: s.DepthM, Basis: "reading", Of: s.part(), DoubtM: s.DepthDoubtM, Level: s.QualityLevel,
		Recorded: s.Recorded}
	if s.TestHole {
		d.Basis = record.TestHole
	}
	if most := slices.MaxFunc(here, byDepth).DepthM; *most > *s.DepthM {
		d.AlsoM = most
	}
	return d
}

// interpolate gives a depth in proportion between the readings on both sides.
func interpolate(before, after []Station, station, gap float64) (Depth, bool) {
	silent := func(s Station) bool { return s.DepthM == nil }
	if slices.ContainsFunc(before, silent) || slices.ContainsFunc(after, silent) {
		return Depth{}, false
	}
	a, b := slices.MinFunc(before, byDepth), slices.MinFunc(after, byDepth)
	apart := b.AtM - a.AtM
	if !(apart > 0 && apart <= gap) || a.part() != b.part() || a.isExposed() || b.isExposed() {
		return Depth{}, false
	}
	m := *a.DepthM + (*b.DepthM-*a.DepthM)*(station-a.AtM)/apart
	return Depth{
		M: &m, Basis: "between readings", GapM: apart, Of: a.part(), DoubtM: larger(a.DepthDoubtM, b.DepthDoubtM),
		Level: lesser(levelOf(a), levelOf(b)), Recorded: older(a.Recorded, b.Recorded),
		Mixed: levelOf(a) != levelOf(b) || decadeApart(a.Recorded, b.Recorded),
	}, true
}

// isExposed reports whether a depth is a fact of one place, by its kind or level.
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

// decadeApart reports whether two stated dates are more than ten years apart, or
// only one is stated.
func decadeApart(a, b string) bool {
	if a == "" || b == "" {
		return a != b
	}
	first, later := min(a, b), max(a, b)
	year, err := strconv.Atoi(first[:min(4, len(first))])
	return err != nil || len(first) < 4 || later > fmt.Sprintf("%04d%s", year+10, first[4:])
}

// larger and smaller compare two numbers; one that is not stated gives way.
func larger(a, b *float64) *float64 {
	if a == nil || b != nil && *b >= *a {
		return b
	}
	return a
}

func smaller(a, b *float64) *float64 {
	if a == nil || b != nil && *b <= *a {
		return b
	}
	return a
}

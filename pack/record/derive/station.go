package derive

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// Station is one reading along a line.
type Station struct {
	AtM          float64   `json:"at_m"` // from the beginning of the line
	Place        orb.Point `json:"place"`
	OffsetM      float64   `json:"offset_m"` // from the line
	DepthM       *float64  `json:"depth_m"`
	AccuracyM    *float64  `json:"accuracy_m"`
	CurrentMA    *float64  `json:"current_ma"`
	Hertz        *float64  `json:"frequency_hz"`
	Label        string    `json:"label"`
	DepthOf      string    `json:"depth_of"`         // in the record's words, see [Depth]; "" = not stated
	DepthDoubtM  *float64  `json:"depth_accuracy_m"` // of its depth, as recorded
	QualityLevel string    `json:"quality_level"`    // its own, else that of its record
	Recorded     string    `json:"recorded"`         // its own, else that of its record
	Line         int       `json:"line_in_file"`     // 0 = not from a table
	TestHole     bool      `json:"test_hole"`        // exposed there, see [Overlay.IsTestHole]
}

// maxJoin is how far a reading may lie from a recorded line that it names, in
// meters, to be a station of it.
const maxJoin = 10

// A reading that lies farther from the recorded line it names than it can be
// off does not give that line its depth. The limits are the project's own
// choice, in meters: the stated accuracies of both, between these two.
const (
	leastOffLine = 1
	mostOffLine  = 3
)

// reaches reports whether a reading lies near enough to the line to give its depth.
func (l Line) reaches(s Station) bool {
	stated := orZero(l.AccuracyM) + orZero(s.AccuracyM)
	return s.OffsetM <= min(max(stated, leastOffLine), mostOffLine)
}

// doubtOf is the accuracy of a depth as a record states it, in meters: nil
// when it states none that can be one.
func doubtOf(p map[string]any) *float64 {
	if m := record.Number(p, "depth_accuracy_m"); m != nil && *m >= 0 {
		return m
	}
	return nil
}

// attach puts readings along the nearest of the recorded lines they name, and
// gives the places of those too far from all.
func attach(lines []Line, recorded []int, readings []geojson.Feature, o record.Overlay) (lost []string) {
	for _, f := range readings {
		best, where := -1, newStation(f, 0, maxJoin, o)
		for _, i := range recorded {
			if at, off := lines[i].Nearest(f.Geometry.(orb.Point)); off <= where.OffsetM {
				best, where.AtM, where.OffsetM = i, at, off
			}
		}
		if best >= 0 {
			lines[best].Stations = append(lines[best].Stations, where)
		} else {
			lost = append(lost, f.Place)
		}
	}
	for _, i := range recorded {
		slices.SortStableFunc(lines[i].Stations, func(a, b Station) int { return cmp.Compare(a.AtM, b.AtM) })
	}
	return lost
}

func newStation(f geojson.Feature, at, off float64, o record.Overlay) Station {
	p := f.Properties
	return Station{
		AtM: at, OffsetM: off, Place: f.Geometry.(orb.Point), Label: record.Text(p, "label"),
		DepthM: record.Number(p, "depth_m"), DepthOf: record.Text(p, "depth_of"), DepthDoubtM: doubtOf(p),
		AccuracyM: record.Number(p, "accuracy_m"), CurrentMA: record.Number(p, "current_ma"),
		Hertz:        record.Number(p, "frequency_hz"),
		QualityLevel: o.LevelOf(p), Recorded: o.DateOf(p), TestHole: o.IsTestHole(f),
		Line: int(orZero(record.Number(p, "line_in_file"))),
	}
}

// NearReading is a reading near a place where the depth of a line is unknown.
// It is of the same utility, and not that line's depth.
type NearReading struct {
	M        float64  `json:"m"`       // its depth, meters
	ApartM   float64  `json:"apart_m"` // from the place, meters along the ground
	Overlay  string   `json:"overlay"` // ID of its record
	Own      bool     `json:"own"`     // that is the record of the line
	Of       string   `json:"of"`      // as in [Depth]
	DoubtM   *float64 `json:"doubt_m"`
	Level    string   `json:"level"`
	Recorded string   `json:"recorded"`
}

// maxNearReading is how far from a crossing a near reading may be, in meters: the
// project's own choice, no source.
const maxNearReading = 3

// readingIndex holds the readings with a depth of one utility.
type readingIndex struct {
	all      []Station
	overlays []string // of each reading
	boxIndex
}

func indexReadings(overlays []record.Overlay, utility string) (r readingIndex) {
	for _, o := range overlays {
		if o.Kind.Code != utility {
			continue
		}
		for _, f := range o.Features {
			if _, ok := f.Geometry.(orb.Point); !ok {
				continue
			}
			if s := newStation(f, 0, 0, o); s.DepthM != nil {
				r.all, r.overlays = append(r.all, s), append(r.overlays, o.ID)
			}
		}
	}
	r.boxIndex = newBoxIndex(len(r.all), func(i int) rtree.Box { return boxOf(r.all[i].Place, r.all[i].Place) })
	return r
}

// addNearReadings gives each unknown depth of a crossing the nearest reading of
// its utility. It changes nothing else of the crossing.
func addNearReadings(crossings []Crossing, lines map[string]Line, overlays []record.Overlay) {
	byUtility := map[string]readingIndex{}
	for i := range crossings {
		c := &crossings[i]
		for n, id := range c.Lines {
			if c.Depths[n].M != nil {
				continue
			}
			readings, ok := byUtility[c.Utilities[n]]
			if !ok {
				readings = indexReadings(overlays, c.Utilities[n])
				byUtility[c.Utilities[n]] = readings
			}
			c.Depths[n].Near = readings.nearest(c.Place, lines[id].Overlay)
		}
	}
}

// nearest gives the nearest reading to a place on a line of an overlay; nil
// where there is none near enough.
func (r readingIndex) nearest(place orb.Point, own string) (best *NearReading) {
	limit := math.Nextafter(maxNearReading, math.Inf(1))
	for i := range r.in(grown(boxOf(place, place), place, maxNearReading)) {
		s := r.all[i]
		if m := geodesic.Distance(place, s.Place); m < limit {
			limit = m
			best = &NearReading{*s.DepthM, m, r.overlays[i], r.overlays[i] == own, s.part(), s.DepthDoubtM,
				s.QualityLevel, s.Recorded}
		}
	}
	return best
}

package derive

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
)

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
			best = &NearReading{*s.DepthM, m, r.overlays[i], r.overlays[i] == own, s.part(), s.DepthDoubtM, s.QualityLevel, s.Recorded}
		}
	}
	return best
}

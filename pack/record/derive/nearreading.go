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
	M        float64  `json:"m"`       // its depth, metres
	ApartM   float64  `json:"apart_m"` // from the place, metres along the ground
	Overlay  string   `json:"overlay"` // the record it is of
	Own      bool     `json:"own"`     // that is the record of the line
	Of       string   `json:"of"`      // as in [Depth]
	DoubtM   *float64 `json:"doubt_m"`
	Level    string   `json:"level"`
	Recorded string   `json:"recorded"`
}

// mostNearby is how far from a crossing a reading is still told of, in metres:
// the project's own choice, no source.
const mostNearby = 3

// readingsOf are the readings with a depth of one utility, in a tree.
type readingsOf struct {
	all  []Station
	from []string // the overlay of each
	tree *rtree.RTree
}

func readingsByUtility(overlays []record.Overlay, wanted map[string]bool) map[string]readingsOf {
	by := map[string]readingsOf{}
	for _, o := range overlays {
		if !wanted[o.Kind.Code] {
			continue
		}
		r := by[o.Kind.Code]
		for _, f := range o.Features {
			if _, ok := f.Geometry.(orb.Point); !ok {
				continue
			}
			if s := station(f, 0, 0, o); s.DepthM != nil {
				r.all, r.from = append(r.all, s), append(r.from, o.ID)
			}
		}
		by[o.Kind.Code] = r
	}
	for code, r := range by {
		items := make([]rtree.BulkItem, len(r.all))
		for i, s := range r.all {
			items[i] = rtree.BulkItem{Box: boxOf(s.Place, s.Place), RecordID: i}
		}
		r.tree = rtree.BulkLoad(items)
		by[code] = r
	}
	return by
}

// tellNearReadings gives each unknown depth of a crossing the nearest reading
// of its utility. It changes nothing of what the crossing says.
func tellNearReadings(crossings []Crossing, lines map[string]Line, overlays []record.Overlay) {
	wanted := map[string]bool{}
	for _, c := range crossings {
		for n, d := range c.Depths {
			wanted[c.Utilities[n]] = wanted[c.Utilities[n]] || d.M == nil
		}
	}
	by := readingsByUtility(overlays, wanted)
	for i := range crossings {
		c := &crossings[i]
		for n, id := range c.Lines {
			if c.Depths[n].M == nil {
				c.Depths[n].Near = by[c.Utilities[n]].nearest(c.Place, lines[id].Overlay)
			}
		}
	}
}

// nearest gives the nearest reading to a place on a line of an overlay; nil
// where there is none near enough.
func (r readingsOf) nearest(place orb.Point, own string) (best *NearReading) {
	if r.tree == nil {
		return nil
	}
	far := math.Nextafter(mostNearby, math.Inf(1))
	_ = r.tree.RangeSearch(grown(boxOf(place, place), place, mostNearby), func(i int) error { // the callback never fails
		s := r.all[i]
		if m := geodesic.Distance(place, s.Place); m < far {
			far = m
			best = &NearReading{*s.DepthM, m, r.from[i], r.from[i] == own, s.of(), s.DepthDoubtM, s.QualityLevel, s.Recorded}
		}
		return nil
	})
	return best
}

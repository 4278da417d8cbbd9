package cut

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles"
)

// Found is a feature near a place.
type Found struct {
	Feature  int     // its number, see [Index.Record]
	Distance float64 // metres on the ground; 0 inside an outline
	Outline  bool    // whether it is an outline
	rank     int     // points before lines before outlines
}

// Near finds the features within some metres of a place in degrees, as they
// were packed and not as they were drawn: points first, then lines, then
// outlines, each nearest first.
func (x *Index) Near(lon, lat, within float64) []Found {
	px, py := tiles.Project(lon, max(-tiles.MaxLatitude, min(lat, tiles.MaxLatitude)))
	metres := 2 * math.Pi * tiles.EarthRadius * math.Cos(lat*math.Pi/180) // of the world square's side, here
	reach := within / metres
	best := map[int32]Found{}
	box := rtree.Box{MinX: px - reach, MinY: py - reach, MaxX: px + reach, MaxY: py + reach}
	_ = x.tree.RangeSearch(box, func(i int) error { // the callback never fails
		it := x.items[i]
		d, rank := distance(it.shape, orb.Point{px, py})
		if d *= metres; d <= within {
			f := Found{int(it.feature), d, rank == 2, rank}
			if was, met := best[it.feature]; !met || closer(f, was) < 0 {
				best[it.feature] = f
			}
		}
		return nil
	})
	all := make([]Found, 0, len(best))
	for _, f := range best {
		all = append(all, f)
	}
	slices.SortFunc(all, closer)
	return all
}

func closer(a, b Found) int {
	return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Feature, b.Feature))
}

func distance(g orb.Geometry, p orb.Point) (d float64, rank int) {
	switch g := g.(type) {
	case orb.Point:
		return planar.Distance(g, p), 0
	case orb.LineString:
		return planar.DistanceFrom(g, p), 1
	case orb.Polygon:
		if planar.PolygonContains(g, p) {
			return 0, 2
		}
		d = math.Inf(1)
		for _, ring := range g {
			d = min(d, planar.DistanceFrom(orb.LineString(ring), p))
		}
	}
	return d, 2
}

package vectortile

import (
	"cmp"
	"context"
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
	Distance float64 // meters on the ground; 0 inside an outline
	rank     int     // points before lines before outlines
}

// Search is a query of [Index.Near].
type Search struct {
	Lon, Lat float64 // degrees
	Within   float64 // meters
	Most     int     // how many features are wanted
	Inside   bool    // of outlines only those that the place lies in
}

// checkEvery is how many shapes are measured between checks of the context.
const checkEvery = 1024

// Near finds the features within some meters of a place, as they were packed and
// not as they were drawn: points first, then lines, then outlines, each nearest
// first. count is how many there are; no more than are wanted are kept. The error is that of ctx.
func (x *Index) Near(ctx context.Context, s Search) (found []Found, count int, err error) {
	px, py := tiles.Project(s.Lon, max(-tiles.MaxLatitude, min(s.Lat, tiles.MaxLatitude)))
	meters := 2 * math.Pi * tiles.EarthRadius * math.Cos(s.Lat*math.Pi/180) // of the world square's side, here
	reach := s.Within / meters
	seen := make([]uint64, x.content.Features/64+1) // a bit for each feature
	box := rtree.Box{MinX: px - reach, MinY: py - reach, MaxX: px + reach, MaxY: py + reach}
	measured := 0
	err = x.tree.RangeSearch(box, func(i int) error {
		if measured++; measured%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		it := x.items[i]
		d, rank := distance(it.shape, orb.Point{px, py})
		if d *= meters; !(d <= s.Within) || s.Inside && rank == 2 && d > 0 { // also NaN
			return nil
		}
		if at, bit := it.feature/64, uint64(1)<<(it.feature%64); seen[at]&bit == 0 {
			seen[at] |= bit
			count++
		}
		found = insert(found, Found{int(it.feature), d, rank}, s.Most)
		return nil
	})
	return found, count, err
}

// insert puts a feature among the closest ones, once.
func insert(all []Found, f Found, most int) []Found {
	if len(all) == most && (most == 0 || closer(f, all[most-1]) >= 0) {
		return all
	}
	for i, was := range all {
		if was.Feature == f.Feature {
			if closer(was, f) <= 0 {
				return all
			}
			all = slices.Delete(all, i, i+1)
			break
		}
	}
	at, _ := slices.BinarySearchFunc(all, f, closer)
	all = slices.Insert(all, at, f)
	return all[:min(len(all), most)]
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

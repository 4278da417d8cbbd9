package vectortile

import (
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// TestOutlinesCounted: what an outline stands for is said on its edge alone,
// so that nobody counts it twice.
func TestOutlinesCounted(t *testing.T) {
	var all []geojson.Feature
	for i := range 3 * maxMarks {
		at := func(east, north float64) orb.Point {
			return orb.Point{-140.5 + float64(i%40)*2e-5 + east*1e-5, 40.5 + float64(i/40)*2e-5 + north*1e-5}
		}
		all = append(all, feature(orb.Polygon{{at(0, 0), at(1, 0), at(1, 1), at(0, 1), at(0, 0)}}, nil))
	}
	x := index(t, all)
	total, faces := 0, 0
	for _, tile := range over(x.Content().Box, 16) {
		for _, d := range cutTile(t, x, tile) {
			more, _ := d.properties[MoreProperty].(uint64)
			if d.layer == LayerFaces {
				faces++
				if more > 0 {
					t.Fatalf("an inside stands for %d", more)
				}
				continue
			}
			total += 1 + int(more)
		}
	}
	// One that lies in two tiles counts in both.
	if faces == 0 || total < len(all) || total > len(all)+200 {
		t.Errorf("%d insides; edges that stand for %d of %d", faces, total, len(all))
	}
}

// TestOnTheEdge: a point where four tiles meet is in one of them.
func TestOnTheEdge(t *testing.T) {
	for _, p := range []orb.Point{{0, 0}, {-90, 0}, {180, 0}, {-180, tiles.MaxLatitude}, {180, -90}} {
		x := index(t, []geojson.Feature{feature(p, nil)})
		for _, zoom := range []int{1, 5} {
			n := 0
			for row := range uint32(1) << zoom {
				for column := range uint32(1) << zoom {
					n += len(cutTile(t, x, tiles.ID{Z: uint32(zoom), X: column, Y: row}))
				}
			}
			if n != 1 {
				t.Errorf("%v at zoom %d: %d times", p, zoom, n)
			}
		}
	}
}

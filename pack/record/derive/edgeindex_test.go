package derive

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"
)

// A search that a caller leaves early yields nothing more, over many nodes too.
func TestBoxIndexStops(t *testing.T) {
	x := newBoxIndex(1000, func(i int) rtree.Box { return boxOf(orb.Point{float64(i), 0}, orb.Point{float64(i), 0}) })
	n := 0
	for range x.in(boxOf(orb.Point{0, 0}, orb.Point{1000, 0})) {
		if n++; n == 3 {
			break
		}
	}
	for range (boxIndex{}).in(rtree.Box{}) {
		n++
	}
	if n != 3 {
		t.Errorf("%d boxes", n)
	}
}

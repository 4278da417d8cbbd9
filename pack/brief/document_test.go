package brief

import (
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// TestSheetsWithoutAFindAreLeftOut: the overview stays, and what is left out is counted.
func TestSheetsWithoutAFindAreLeftOut(t *testing.T) {
	on := mapBox(215.9, 279.4)
	at := orb.Point{-140.4967, 40.4986}
	far := orb.Point{-140.48, 40.4986}
	sheets := []sheet{{view: newView(0, far, 500, on)}, {view: newView(1, at, 240, on)}, {view: newView(2, far, 240, on)}}
	found := packData{overlays: []record.Overlay{{Features: []geojson.Feature{{Geometry: at}, {}}}}}
	looked := packData{looked: []orb.Geometry{orb.LineString{at, {-140.4966, 40.4986}}}}
	for name, s := range map[string]packData{"found": found, "looked": looked} {
		if some, left := s.withFinds(sheets); left != 1 || len(some) != 2 || some[0].number != 0 || some[1].number != 1 {
			t.Errorf("%s: %d pages, %d left out", name, len(some), left)
		}
	}
	if some, left := (packData{}).withFinds(sheets); left != 2 || len(some) != 1 {
		t.Errorf("nothing: %d pages, %d left out", len(some), left)
	}
}

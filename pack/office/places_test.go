package office

import (
	"encoding/json"
	"math/rand/v2"
	"testing"

	"groundsheet/tiles"
)

// TestPlaces: what changed is all within its places or above them, also when there are
// too many to remember.
func TestPlaces(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{0, 1, 40, 3 * mostPlaces} {
		places, changed := changedTiles{}, map[tiles.ID]bool{}
		for range n {
			id := tiles.ID{Z: 14 + r.Uint32N(7)}
			id.X, id.Y = 3000<<(id.Z-14)+r.Uint32N(3<<(id.Z-14)), 6000<<(id.Z-14)+r.Uint32N(3<<(id.Z-14))
			places.add(id)
			changed[id] = true
		}
		where := places.smallest()
		if len(where) > mostPlaces || n > 0 && len(where) == 0 {
			t.Fatalf("%d places for %d tiles", len(where), n)
		}
		shown := map[tiles.ID]bool{}
		for _, id := range where {
			shown[id] = true
		}
		for _, id := range where {
			for up := id; up.Z > 0; {
				if up = up.Parent(); shown[up] {
					t.Fatalf("%v lies in %v, and both are shown", id, up)
				}
				delete(changed, up)
			}
			delete(changed, id)
		}
		for id := range changed {
			covered := false
			for up := id; up.Z > 0 && !covered; up = up.Parent() {
				covered = shown[up]
			}
			if !covered {
				t.Fatalf("%v changed and is not shown", id)
			}
		}
		text, err := Places(Changes{Where: where})
		var doc struct{ Features []json.RawMessage }
		if err != nil || json.Unmarshal(text, &doc) != nil || len(doc.Features) != len(where) {
			t.Errorf("%d features, %v", len(doc.Features), err)
		}
	}
}

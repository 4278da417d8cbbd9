package office

import (
	"bytes"
	"maps"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// mostPlaces bounds how many changed tiles are remembered; a map shows no more anyhow.
const mostPlaces = 4000

// changedTiles remembers tiles within a bound.
type changedTiles struct {
	all     map[tiles.ID]bool
	deepest uint32 // what is deeper counts as the tile above it at this zoom; 0 = all are remembered as they are
}

func (c *changedTiles) add(t tiles.ID) {
	if c.all == nil {
		c.all = map[tiles.ID]bool{}
	}
	if c.deepest > 0 && t.Z > c.deepest {
		t = t.Ancestor(t.Z - c.deepest)
	}
	if c.all[t] = true; len(c.all) > mostPlaces {
		c.coarsen()
	}
}

// coarsen replaces the tiles of the deepest zoom by those above them, until half of
// [mostPlaces] are left.
func (c *changedTiles) coarsen() {
	if c.deepest == 0 {
		c.deepest = tiles.MaxZoom
	}
	for ; len(c.all) > mostPlaces/2 && c.deepest > 1; c.deepest-- {
		for t := range maps.Clone(c.all) {
			if t.Z == c.deepest {
				delete(c.all, t)
				c.all[t.Parent()] = true
			}
		}
	}
}

// smallest leaves out each tile that has another one of them below it, and puts the rest
// in tile order.
func (c *changedTiles) smallest() (all []tiles.ID) {
	above := map[tiles.ID]bool{}
	for t := range c.all {
		for t.Z > 0 {
			t = t.Parent()
			above[t] = true
		}
	}
	for t := range c.all {
		if !above[t] {
			all = append(all, t)
		}
	}
	slices.SortFunc(all, tiles.Compare)
	return all
}

// Places gives what changed as GeoJSON: a box for each tile of Where.
func Places(all ...Changes) ([]byte, error) {
	var features []geojson.Feature
	for _, c := range all {
		for _, t := range c.Where {
			b := t.Bounds()
			features = append(features, geojson.Feature{
				Geometry:   orb.Bound{Min: orb.Point{b.West, b.South}, Max: orb.Point{b.East, b.North}}.ToPolygon(),
				Properties: map[string]any{"tile": t.String(), "zoom": t.Z},
			})
		}
	}
	var out bytes.Buffer
	err := geojson.Write(&out, features)
	return out.Bytes(), err
}

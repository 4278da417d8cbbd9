// Package vectortile makes vector tiles of a large overlay, so that a phone draws a
// hundred thousand readings without loading them all, and finds the exact records at
// a tapped place.
//
// A tile is for drawing only. Its positions are rounded to a grid, it carries
// only what decides the symbology, and where very many marks are close together one
// stands for its neighbors and says how many. What a person reads when tapping
// comes from [Index.Near] and [Index.Record]: the record as it was packed.
package vectortile

import (
	"errors"
	"fmt"

	"groundsheet/tiles"
)

const (
	// TileSize is the side of a cut tile on the screen, in CSS pixels.
	TileSize = 512

	// DeepestZoom is the deepest zoom that is cut; nearer, a map enlarges its
	// tiles. A tile is 2.4 m wide there at the equator.
	DeepestZoom = 24

	// ExactZoom is the zoom from which on positions are not thinned and the
	// grid is finer than 2 cm on the ground. Tiles above it are overviews.
	ExactZoom = 17
)

// plainExtent is the grid of a tile (Mapbox Vector Tile 2.1, 4.1: 4096 is the
// usual one).
const plainExtent = 4096

// Extent is the number of grid steps along a tile's side at a zoom.
//
// The equator is 40,075,017 m. A step of a 4096 grid is 1.9 cm there at zoom
// 19 (40,075,017 / 2^19 / 4096), but 3.7 cm at 18 and 7.5 cm at 17: so these
// two have finer grids, and keep the 1.9 cm. North and south of the equator
// every step is shorter, by the cosine of the latitude.
func Extent(zoom int) int {
	if zoom >= ExactZoom && zoom < 19 {
		return plainExtent << (19 - zoom)
	}
	return plainExtent
}

// LayerRecords holds points and lines; LayerFaces the insides of outlines, cut
// at the tile's edges; LayerEdges the outlines themselves, as lines, so that no
// line is drawn where a tile ends.
const (
	LayerRecords = "records"
	LayerFaces   = "faces"
	LayerEdges   = "edges"
)

// MoreProperty is the property of a mark that stands for others: their number.
const MoreProperty = "more"

// MediaType of a vector tile (OGC API – Tiles part 1, requirements class "mvt").
const MediaType = "application/vnd.mapbox-vector-tile"

// errTooMuch says that an overlay has more marks than are cut.
var errTooMuch = errors.New("too many shapes for a map")

// maxItems bounds what an index holds: a pack is an untrusted file.
const maxItems = 4_000_000

// Options of an index. The zero value carries nothing but the shapes.
type Options struct {
	// Carry names the properties that tiles carry: numbers, texts of at most
	// 64 bytes, true or false, and lists as JSON of at most 256 bytes. Others
	// are left to the record.
	Carry []string

	// Only says which features belong to it; nil = all. The others have no number.
	Only func(properties map[string]any) bool

	// Coarse lets lines and outlines be drawn coarser by half a pixel at every
	// zoom, not only above [ExactZoom].
	Coarse bool
}

// Content is what an index holds.
type Content struct {
	Features int      // as in the overlay, those without a place left out
	NotDrawn int      // cannot be read, or lie off the globe
	Points   bool     // whether all of them are points
	Levels   []string // the quality levels stated by features, sorted, at most 20; "" when some state none
	Box      tiles.Box
}

func side(zoom uint32) float64 { return 1 / float64(uint64(1)<<zoom) }

func checkZoom(t tiles.ID) error {
	if !t.Valid() || t.Z > DeepestZoom {
		return fmt.Errorf("tile %v: vector tiles are cut to zoom %d", t, DeepestZoom)
	}
	return nil
}

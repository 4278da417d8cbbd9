package area

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// tolerance is how far, in tiles, a shape may reach into a tile without
// counting for it (OGC 17-083r4, Annex I), so that a box drawn on tile borders
// does not pull in its neighbors. At shallow zooms a millionth of a tile is
// meters; there it is a millimeter.
const (
	tolerance  = 1e-6
	millimeter = 2.5e-11 // of the world square, at the equator
)

// Covers gives the tiles whose inside the area meets when it is grown by margin
// meters of ground, one cover a zoom from z.Min to z.Max; a bad range gives nil,
// a margin below zero counts as none. Touching a border or a corner does not
// count. A part without any width counts for the tiles that hold it. A zoom's
// cover does not depend on the other zooms.
//
// Edges are followed to a quarter of a millimeter (those of some hundred
// kilometers and more less closely). The margin, and widths and radii, are
// within 0.1 % up to [MaxReach] and latitude 70. A margin over the antimeridian
// goes on at the other side; one over the end of Web Mercator is cut.
//
// Time and memory grow with the edges and the tile rows they cross, not with
// the number of tiles.
func (a Area) Covers(z tiles.Zooms, margin float64) []tiles.Cover {
	if z.Check() != nil {
		return nil
	}
	if !(margin > 0) { // below zero, or not a number
		margin = 0
	}
	shapes := a.shapes(margin)
	covers := make([]tiles.Cover, 0, z.Max-z.Min+1)
	var k coverBuilder
	for zoom := range z.All() {
		covers = append(covers, shapes.cover(zoom, &k))
	}
	return covers
}

// shapes are the parts of a grown area, projected once. Their covers together
// are the cover of the area, so no union of shapes is ever computed.
type shapes struct {
	fills        []polygonFill
	capsules     []capsule
	north, south float64 // heights of the world square, north the lesser
}

func (a Area) shapes(margin float64) shapes {
	s := shapes{north: math.Inf(1), south: math.Inf(-1)}
	for _, polygon := range a.Polygons {
		s.fills = append(s.fills, newFill(polygon))
		if margin > 0 {
			for _, ring := range polygon {
				s.capsules = appendCapsules(s.capsules, ring, margin)
			}
		}
	}
	for _, strip := range a.Strips {
		s.capsules = appendCapsules(s.capsules, strip.Line, strip.HalfWidth+margin)
	}
	for _, d := range a.Discs {
		s.capsules = appendCapsules(s.capsules, []orb.Point{d.Center, d.Center}, d.Radius+margin)
	}
	for _, f := range s.fills {
		s.north, s.south = min(s.north, f.north), max(s.south, f.south)
	}
	for _, c := range s.capsules {
		s.north, s.south = min(s.north, c.top()), max(s.south, c.bottom())
	}
	return s
}

func (s shapes) cover(zoom int, k *coverBuilder) tiles.Cover {
	if s.north > s.south {
		return tiles.NewCover(zoom, nil)
	}
	k.reset(zoom, s.north, s.south)
	for _, f := range s.fills {
		f.cover(k)
	}
	for _, c := range s.capsules {
		c.cover(k)
	}
	return k.cover()
}

package vectortile

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// TestScribble: a line that covers the same ground a thousand times over is drawn
// where it is, within the width of a drawn line, with no more positions than a tile has
// room for.
func TestScribble(t *testing.T) {
	const n = 300_000
	mid := orb.Point{-140.49674, 40.4986}
	line := make(orb.LineString, n)
	for i := range line {
		turn, far := float64(i)/50, 3e-4*float64(i)/n
		line[i] = orb.Point{mid[0] + far*math.Cos(turn), mid[1] + far*math.Sin(turn)}
	}
	x := index(t, []geojson.Feature{feature(line, nil)})
	for _, zoom := range []int{17, 18, 20} {
		tile := tiles.At(mid[0], mid[1], zoom)
		const cell = coarsest * 2 // of a pixel's neighbors
		extent := Extent(zoom)
		near := map[gridPoint]bool{} // squares within a line's width of what is drawn
		positions := 0
		for _, d := range cutTile(t, x, tile) {
			for _, part := range d.parts {
				positions += len(part)
				for i := 1; i < len(part); i++ {
					markNear(near, part[i-1], part[i], float64(extent)/TileSize, cell)
				}
			}
		}
		if most := 8 * (TileSize / coarsest) * (TileSize / coarsest); positions == 0 || positions > most {
			t.Errorf("zoom %d: %d positions, at most %d", zoom, positions, most)
		}
		missed, within := 0, 0
		for _, p := range line {
			u, v := tiles.Project(p[0], p[1])
			scale := math.Ldexp(TileSize, zoom)
			px := orb.Point{u*scale - float64(tile.X)*TileSize, v*scale - float64(tile.Y)*TileSize}
			if px[0] < 0 || px[1] < 0 || px[0] >= TileSize || px[1] >= TileSize {
				continue
			}
			within++
			if !near[gridPoint{int32(px[0] / cell), int32(px[1] / cell)}] {
				missed++
			}
		}
		if within == 0 || missed > 0 {
			t.Errorf("zoom %d: of %d positions %d are far from what is drawn", zoom, within, missed)
		}
	}
}

// markNear notes the squares that an edge runs through, and their neighbors.
func markNear(near map[gridPoint]bool, a, b gridPoint, grid, cell float64) {
	for s := range 33 {
		f := float64(s) / 32
		x := (float64(a[0])*(1-f) + float64(b[0])*f) / grid / cell
		y := (float64(a[1])*(1-f) + float64(b[1])*f) / grid / cell
		for _, dx := range []float64{-1, 0, 1} {
			for _, dy := range []float64{-1, 0, 1} {
				near[gridPoint{int32(math.Floor(x + dx)), int32(math.Floor(y + dy))}] = true
			}
		}
	}
}

package pack

import (
	"context"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// guessBytes is the weight of a 256-pixel aerial tile before anything of a
// source has been measured: common practice, no source. A plan that uses it
// says so.
const guessBytes = 20_000

// enough is how many tiles of a zoom must have been measured to speak for it;
// below that the neighbouring zooms are heard too.
const enough = 8

// weights is what the store has measured of a source, by zoom.
type weights map[int]store.Measure

func weigh(ctx context.Context, shelf *store.Shelf) (weights, error) {
	if shelf == nil {
		return nil, nil
	}
	return shelf.Measured(ctx)
}

// tile is what a tile of a zoom that is not held will weigh, absent ones
// counted as nothing. It is the mean and not the median, because it stands for
// a sum: a source with many blank tiles has a median far from it.
func (w weights) tile(zoom int) (bytes float64, guessed bool) {
	var m store.Measure
	var sum float64
	for away := 0; away <= tiles.MaxZoom && m.Tiles+m.Holes < enough; away++ {
		for _, z := range near(zoom, away) {
			n := w[z]
			sum += n.MeanBytes * float64(n.Tiles)
			m.Tiles += n.Tiles
			m.Holes += n.Holes
		}
	}
	if m.Tiles+m.Holes == 0 {
		return guessBytes, true
	}
	return sum / float64(m.Tiles+m.Holes), false
}

func near(zoom, away int) []int {
	if away == 0 {
		return []int{zoom}
	}
	return []int{zoom - away, zoom + away}
}

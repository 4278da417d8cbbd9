package plan

import (
	"cmp"
	"context"
	"math/rand/v2"
	"slices"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// guessBytes is the weight of a 256-pixel aerial tile before anything of a
// source has been measured: common practice, no source. A plan that uses it
// says so.
const guessBytes = 20_000

// enough is how many tiles of a zoom must have been measured to speak for it;
// below that the neighboring zooms are heard too.
const enough = 8

// weights is what the store has measured of a source, by zoom.
type weights map[int]store.Measure

// measured is what the store knows of a source.
type measured struct {
	weights   weights
	perSecond float64 // requests a second that it answered; 0 = not timed yet
	shrink    float64 // what the job's jpeg_quality makes of an image's weight; 1 without it
}

func readMeasured(ctx context.Context, p *Plan, o Options) (l measured, err error) {
	l.shrink = 1
	if o.Shelf == nil {
		return l, nil
	}
	if l.weights, err = o.Shelf.Measured(ctx); err != nil {
		return l, err
	}
	if l.perSecond, err = o.Shelf.PerSecond(ctx); err != nil {
		return l, err
	}
	if p.Base.Quality > 0 {
		l.shrink, _, err = shrinking(ctx, p, o.Shelf, p.Base.Quality)
	}
	return l, err
}

// rate is the speed to count with: never faster than the terms.
func (l measured) rate(s source.Source) float64 {
	t := s.Terms
	switch {
	case t == nil:
		return 0
	case s.Local():
		return l.perSecond // no pace: only the disk
	case l.perSecond > 0:
		return min(l.perSecond, t.RequestsPerSecond)
	}
	return t.RequestsPerSecond
}

// shrinkSample is how many held tiles are packed again to learn what a JPEG
// quality makes of them.
const shrinkSample = 20

// shrinking packs some held tiles, picked all over the plan, with another
// quality. The ratio is 1 when none could be, or the source forbids it.
func shrinking(ctx context.Context, p *Plan, shelf store.Shelf, quality int) (ratio float64, measured int, err error) {
	picked, err := pickHeld(ctx, p, shelf)
	if err != nil {
		return 1, 0, err
	}
	var before, after int
	for _, id := range picked {
		r, held, err := shelf.Get(ctx, id)
		if err != nil {
			return 1, 0, err
		}
		if r.Fixed {
			return 1, 0, nil
		}
		if !held {
			continue
		}
		img, err := raster.Decode(r.Data)
		if err != nil {
			continue // check names it
		}
		small, err := raster.EncodeJPEG(img, quality)
		if err != nil {
			return 1, 0, err
		}
		before, after, measured = before+r.Bytes, after+len(small), measured+1
	}
	if before == 0 {
		return 1, 0, nil
	}
	return float64(after) / float64(before), measured, nil
}

// pickHeld takes the held tiles of the plan whose hashes of place are lowest:
// the same ones each time, and in no row or column.
func pickHeld(ctx context.Context, p *Plan, shelf store.Shelf) ([]tiles.ID, error) {
	type pick struct {
		rank uint64
		id   tiles.ID
	}
	var picks []pick
	for _, c := range p.Covers {
		for r, err := range shelf.In(ctx, c, false) {
			if err != nil {
				return nil, err
			}
			if r.Hole {
				continue
			}
			rank := rand.NewPCG(uint64(r.Z), uint64(r.X)<<32|uint64(r.Y)).Uint64()
			if len(picks) == shrinkSample && rank >= picks[shrinkSample-1].rank {
				continue
			}
			at, _ := slices.BinarySearchFunc(picks, rank, func(p pick, rank uint64) int { return cmp.Compare(p.rank, rank) })
			picks = slices.Insert(picks, at, pick{rank, r.ID})
			picks = picks[:min(len(picks), shrinkSample)]
		}
	}
	var ids []tiles.ID
	for _, p := range picks {
		ids = append(ids, p.id)
	}
	return ids, nil
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

package office

import (
	"context"
	"iter"
	"math/rand/v2"

	"groundsheet/tiles/fetch"
)

func (b base) sample(ctx context.Context, n int) (fetch.Tally, error) {
	if b.plan.Refused != nil {
		return fetch.Tally{}, b.plan.Refused
	}
	return b.fetch(ctx, Sampling, b.shelf, b.spread(ctx, n), min(b.plan.Fetch, int64(n)))
}

// spread cuts the wants of each zoom into as many runs as it has a share, and
// takes one of each at a place that follows no row or column.
func (b base) spread(ctx context.Context, n int) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		left := int64(n)
		for i, c := range b.plan.Covers {
			have := b.plan.Zooms[i].Fetch
			share := min(left/int64(len(b.plan.Covers)-i), have)
			pick := rand.New(rand.NewPCG(uint64(c.Zoom()), uint64(have)))
			at, taken, due := int64(-1), int64(0), int64(-1)
			for w, err := range b.wants(ctx, c) {
				if at++; taken < share && at == taken*have/share { // a run begins
					due = at + pick.Int64N((taken+1)*have/share-at)
				}
				if at != due && err == nil {
					continue
				}
				taken++
				if !yield(w, err) || err != nil {
					return
				}
			}
			left -= taken
		}
	}
}

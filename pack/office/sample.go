package office

import (
	"context"
	"iter"
	"math/rand/v2"
	"time"

	"groundsheet/tiles/fetch"
)

// Sample fetches about n tiles of the plan, spread evenly over its zooms and
// its ground, and keeps them in the store: then a plan can be drawn from what
// was measured. It writes no pack. Refusals and errors are those of [Run].
func Sample(ctx context.Context, o Options, n int) (fetch.Tally, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Plan.Refused != nil {
		return fetch.Tally{}, o.Plan.Refused
	}
	return o.fetch(ctx, o.Shelf, o.spread(ctx, n), min(o.Plan.Fetch, int64(n)))
}

// spread cuts the wants of each zoom into as many runs as it has a share, and
// takes one of each at a place that follows no row or column.
func (o Options) spread(ctx context.Context, n int) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		left := int64(n)
		for i, c := range o.Plan.Covers {
			have := o.Plan.Zooms[i].Fetch
			share := min(left/int64(len(o.Plan.Covers)-i), have)
			pick := rand.New(rand.NewPCG(uint64(c.Zoom()), uint64(have)))
			at, taken, due := int64(-1), int64(0), int64(-1)
			for w, err := range o.wants(ctx, c) {
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

package fill

import (
	"context"
	"iter"
	"math/rand/v2"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/fetch"
)

// Sample fetches about n tiles of the plan, spread evenly over its zooms and
// its ground, and keeps them in the store: then a plan can be drawn from what
// was measured. It writes no pack. Refusals and errors are those of [Run].
func Sample(ctx context.Context, o Options, n int) (fetch.Tally, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	plan, err := pack.DrawPlan(ctx, pack.PlanOptions{Job: o.Job, Base: o.Base, Source: o.Source, Shelf: o.Shelf, Now: o.Now})
	if err != nil {
		return fetch.Tally{}, err
	}
	if plan.Refused != nil {
		return fetch.Tally{}, plan.Refused
	}
	wants := o.spread(ctx, plan, n)
	return o.fetch(ctx, wants, min(plan.Fetch, int64(n)))
}

// spread cuts the wants of each zoom into as many runs as it has a share, and
// takes one of each at a place that follows no row or column.
func (o Options) spread(ctx context.Context, plan pack.Plan, n int) iter.Seq[fetch.Want] {
	return func(yield func(fetch.Want) bool) {
		left := int64(n)
		for i, c := range plan.Covers {
			have := plan.Zooms[i].Fetch
			share := min(left/int64(len(plan.Covers)-i), have)
			pick := rand.New(rand.NewPCG(uint64(c.Zoom()), uint64(have)))
			var seen, taken, due int64
			more := merge(c, o.Shelf.In(ctx, c, false), o.Now(), func(w fetch.Want) bool {
				if taken < share && seen == taken*have/share {
					due = seen + pick.Int64N((taken+1)*have/share-seen)
				}
				if seen++; taken == share || seen-1 != due {
					return true
				}
				// The rest of this run is passed over.
				taken++
				if taken < share {
					due = -1
				}
				return yield(w)
			})
			if !more {
				return
			}
			left -= taken
		}
	}
}

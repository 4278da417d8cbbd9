package fill

import (
	"context"
	"iter"
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

// spread takes every so-and-so-many-th want of each zoom, so that each zoom
// gets its share and what a small zoom leaves goes to the deeper ones.
func (o Options) spread(ctx context.Context, plan pack.Plan, n int) iter.Seq[fetch.Want] {
	return func(yield func(fetch.Want) bool) {
		left := int64(n)
		for i, c := range plan.Covers {
			share := left / int64(len(plan.Covers)-i)
			have := plan.Zooms[i].Fetch
			share = min(share, have)
			var seen, taken int64
			more := merge(c, o.Shelf.In(ctx, c, false), o.Now(), func(w fetch.Want) bool {
				seen++
				// The next one is due when the even spacing has been walked.
				if taken < share && seen*share >= taken*have+have/2+1 {
					taken++
					return yield(w)
				}
				return true
			})
			if !more {
				return
			}
			left -= taken
		}
	}
}

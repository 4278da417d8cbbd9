package office

import (
	"context"
	"errors"
	"iter"
	"math/rand/v2"
	"sync"
	"time"

	"groundsheet/pack/plan"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

// fetch asks the source for what the plan wants and the store does not hold
// fresh. What a source needs first (its document read, its file opened, its
// practice server started) is done for the time of the run.
func (b base) fetch(ctx context.Context, stage EventKind, shelf fetch.Shelf, wants iter.Seq2[fetch.Want, error],
	count int64) (fetch.Tally, error) {
	if count == 0 {
		return fetch.Tally{}, nil
	}
	stated, asking := b.plan.Source, b.office.Fetch
	asking.Progress = func(t fetch.Tally) { b.tell(Event{Kind: stage, Total: count, Fetched: t}) }
	asking.Waiting = func() { b.tell(Event{Kind: Waiting}) }
	asking.Pausing = func(until time.Time, why string) { b.tell(Event{Kind: Paused, Until: until, Why: why}) }
	var once sync.Once
	asking.Trying = func(until time.Time, why string) {
		once.Do(func() { b.tell(Event{Kind: Retrying, Until: until, Why: why}) })
	}
	var src source.Source
	var done func() error
	err := fetch.Retry(ctx, asking, func() (outage bool, err error) {
		src, asking.Client, done, err = discover.Open(ctx, stated,
			discover.Options{Client: b.office.Fetch.Client, Now: asking.Now})
		return errors.Is(err, discover.Outage), err
	})
	if err != nil {
		return fetch.Tally{}, err
	}
	defer done() //nolint:errcheck // its only user is done
	asking.Unpaced = src.Local()
	if src.Kind == source.KindRaster {
		asking.Unpaced = true // what is asked of a server is paced where it is asked
		asking.Timeout = max(asking.Timeout, 5*time.Minute)
	}
	return fetch.Run(ctx, src, shelf, wants, asking)
}

// EventKind says what an event is of.
type EventKind string

// The kinds of events, with the fields that are set besides Plan.
const (
	Begun     EventKind = "begun"     // a base: Total = tiles the source is asked for at most
	Waiting   EventKind = "waiting"   // another run is fetching from the source
	Paused    EventKind = "paused"    // until the terms' hours, the next day or as long as the source asks: Until, Why
	Retrying  EventKind = "retrying"  // the source fails and is asked again until it is given up: Until, Why
	Sampling  EventKind = "sampling"  // Total, Fetched
	Fetching  EventKind = "fetching"  // Total, Fetched
	Writing   EventKind = "writing"   // Done, Total
	Checking  EventKind = "checking"  // Done, Total
	Rewriting EventKind = "rewriting" // the pack that was there is damaged and is written again
)

// Event is one step of the progress of a verb. Events come one after the other.
type Event struct {
	Kind        EventKind
	Plan        *plan.Plan // the base at work; nil when only a pack is checked
	Done, Total int64      // tiles
	Fetched     fetch.Tally
	Until       time.Time
	Why         string
}

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

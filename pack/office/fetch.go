package office

import (
	"context"
	"errors"
	"iter"
	"sync"
	"time"

	"groundsheet/tiles/discover"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/source"
)

// fetch asks the source for what the plan wants and the store does not hold
// fresh. What a source needs first (its document read, its file opened, its
// practice server started) is done for the time of the run.
func (b base) fetch(ctx context.Context, stage EventKind, shelf fetch.Shelf, wants iter.Seq2[fetch.Want, error], count int64) (fetch.Tally, error) {
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
		src, asking.Client, done, err = discover.Open(ctx, stated, discover.Options{Client: b.office.Fetch.Client, Now: asking.Now})
		return errors.Is(err, discover.Outage), err
	})
	if err != nil {
		return fetch.Tally{}, err
	}
	defer done() //nolint:errcheck // its only user is done
	asking.Unpaced = src.Local()
	return fetch.Run(ctx, src, shelf, wants, asking)
}

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
func (o Options) fetch(ctx context.Context, shelf fetch.Shelf, wants iter.Seq2[fetch.Want, error], count int64) (fetch.Tally, error) {
	if count == 0 {
		return fetch.Tally{}, nil
	}
	stated := o.Plan.Source
	asking := fetch.Options{
		Now: o.Now, Progress: o.Fetching, Waiting: o.Waiting, Log: o.Log,
		Patient: o.Patient, Pausing: o.Pausing, StandIn: o.StandIn, KeepTrying: o.Keep, Trying: once(o.Trying),
	}
	var src source.Source
	var done func() error
	err := fetch.Retry(ctx, asking, func() (outage bool, err error) {
		src, asking.Client, done, err = discover.Open(ctx, stated, discover.Options{Client: o.Client, Now: o.Now})
		return errors.Is(err, discover.Outage), err
	})
	if err != nil {
		return fetch.Tally{}, err
	}
	defer done() //nolint:errcheck // its only user is done
	asking.Unpaced = src.Local()
	return fetch.Run(ctx, src, shelf, wants, asking)
}

// once tells the first time alone; nil stays nil.
func once(tell func(time.Time, string)) func(time.Time, string) {
	if tell == nil {
		return nil
	}
	var first sync.Once
	return func(until time.Time, why string) { first.Do(func() { tell(until, why) }) }
}

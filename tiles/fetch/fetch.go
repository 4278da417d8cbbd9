package fetch

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"

	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Shelf is what a run needs of an office store.
type Shelf interface {
	store.Writer
	store.CoverReader
}

// Run asks a source for the wanted tiles and keeps them on a shelf. Wants come
// in tile order; they are drawn while the run has the turn, so a sequence that
// reads the shelf sees what runs before this one brought. An error among them
// ends the run: nothing behind it is asked for.
//
// Turns: the run waits for its turn at the shelf. When another run waits, it
// lets the requests on their way end, writes what came, hands the turn over
// with the pace and takes it again later. From then on it looks up every want
// before it asks.
//
// Absent tiles: 404, 204 and an image that the operator named as a placeholder
// make a hole, unless an image is held. Then the image is kept as it is and
// counted as Withdrawn, and the source is asked again when a hole would be: a
// source that answers 404 for an afternoon must not cost a crew its imagery.
// 410 says that the tile is gone for good, and makes a hole in any case.
//
// Failing source: a tile that is held and no longer fresh stands in when
// confirming it fails by an answer of 500, 502, 503 or 504 or by the network,
// as long as the source allowed it (RFC 5861, stale-if-error), or always with
// Options.StandIn. It stays as it is and is asked for again the next time.
//
// With Options.KeepTrying a source that fails in this way ends the run only when it
// has not answered for so long; until then it is asked again after growing
// pauses, by one worker until it answers. Hours, budget and pace hold as ever.
//
// Retries: at most 20 and half of all requests are retries.
//
// The tally is right whatever the error. Errors:
//
//   - *source.Refused, before any request: the terms do not allow it; or the
//     source sends us to a host whose policy forbids it;
//   - *[Outside]: the source failed; it wraps a *[Stopped] when the run was
//     ended early, an *[Incomplete] when some tiles failed;
//   - *store.DiskFull, *store.Unreachable and other errors of the store,
//     among the wants too;
//   - the context's error, when it ended the run.
//
// Whatever came before an error is kept: run again for the rest.
func Run(ctx context.Context, src source.Source, shelf Shelf, wants iter.Seq2[Want, error], o Options) (Tally, error) {
	if err := src.Refusal(); err != nil {
		return Tally{}, err
	}
	o, src = o.filled(), stated(src)
	client, done := clientFor(o.Client, src.Terms.Connections)
	defer done()
	r := &run{
		src: src, o: o, client: client, shelf: shelf, began: o.Now().Truncate(time.Microsecond), started: time.Now(),
		agent: UserAgent(src.Terms.Contact),
		pace:  newPace(src.Terms.RequestsPerSecond, o), trying: trying{most: o.KeepTrying},
	}
	err := r.turns(ctx, wants)
	tally := r.snapshot()
	o.Progress(tally)
	if err == nil && tally.Failed > 0 {
		err = r.outside(&Incomplete{tally.Failed, r.reasons}, "run again: only what is missing is asked for")
	}
	return tally, r.ended(ctx, err)
}

// stated fills what a source that was not read from a file may leave open.
func stated(src source.Source) source.Source {
	t := *src.Terms
	if t.RequestsPerSecond <= 0 {
		t.RequestsPerSecond = source.DefaultRequestsPerSecond
	}
	t.Connections = min(or(t.Connections, source.DefaultConnections), source.MaxConnections)
	src.Terms = &t
	src.TileSize = or(src.TileSize, 256)
	return src
}

// ended puts words to a cancelled run.
func (r *run) ended(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)) {
		return fmt.Errorf("fetching from %s was stopped; what came is kept: %w", r.where(), ctx.Err())
	}
	return err
}

// sleep waits for a length of time or the end of the context.
func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

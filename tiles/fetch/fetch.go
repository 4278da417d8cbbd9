package fetch

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"net/http"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Want is one tile to ask for. The validators are those of a stale copy that
// is held; without them the tile is asked for outright.
type Want struct {
	tiles.ID
	ETag, LastModified string
}

// Tally counts what a run has done. New, Unchanged and Absent count only what
// is on the disk.
type Tally struct {
	Wanted    int           // wants drawn so far
	New       int           // tiles that came and are kept
	Unchanged int           // held copies that the source confirmed
	Absent    int           // tiles the source says it does not have
	Failed    int           // tiles given up in this run
	Requests  int           // requests sent, redirects and retries included
	Retries   int           // tiles asked for once more
	Bytes     int64         // image bytes of New
	Waited    time.Duration // spent in pauses the source asked for and before retries; not the pace
}

// Options are what a caller may set; the zero value is good.
type Options struct {
	Client     *http.Client     // nil = one made for the source's terms; redirects are always handled here
	Unpaced    bool             // no pace: for a source that is this computer itself
	Now        func() time.Time // nil = time.Now; stamps tiles, does not drive the pace
	Progress   func(Tally)      // nil = none; at most 10 times a second and once at the end, never concurrently
	BatchSize  int              // tiles in one write to the store; 0 = 256
	BatchEvery time.Duration    // longest time a tile waits to be written; 0 = 1 s
	MaxBytes   int64            // longest answer taken for a tile; 0 = 8 MiB
	Attempts   int              // tries for one tile; 0 = 4
	Backoff    time.Duration    // wait before the first retry, doubled each time, up to 30 s; 0 = 500 ms
	Timeout    time.Duration    // for one request with its answer; 0 = 60 s
	Log        *slog.Logger     // nil = none; the key never appears
}

func (o Options) filled() Options {
	o.BatchSize = or(o.BatchSize, 256)
	o.BatchEvery = or(o.BatchEvery, time.Second)
	o.MaxBytes = or(o.MaxBytes, 8<<20)
	o.Attempts = or(o.Attempts, 4)
	o.Backoff = or(o.Backoff, 500*time.Millisecond)
	o.Timeout = or(o.Timeout, time.Minute)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Progress == nil {
		o.Progress = func(Tally) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

func or[T int | int64 | time.Duration](v, fallback T) T {
	if v <= 0 {
		return fallback
	}
	return v
}

// Run asks a source for the wanted tiles and keeps them on a shelf. The tally
// is right whatever the error. Errors:
//
//   - *source.Refused, before any request: the terms do not allow it; or the
//     source sends us to a host whose policy forbids it;
//   - *[Outside]: the source failed; it wraps a *[Stopped] when the run was
//     ended early, an *[Incomplete] when some tiles failed;
//   - *store.DiskFull and other errors of the store;
//   - the context's error, when it ended the run.
//
// Whatever came before an error is kept: run again for the rest.
func Run(ctx context.Context, src source.Source, shelf store.Shelf, wants iter.Seq[Want], o Options) (Tally, error) {
	if err := src.Refusal(); err != nil {
		return Tally{}, err
	}
	o, src = o.filled(), stated(src)
	client, done := clientFor(o.Client, src.Terms.Connections)
	defer done()
	r := &run{
		src: src, o: o, client: client, shelf: shelf,
		agent: userAgent(src.Terms.Contact),
		pace:  newPace(src.Terms.RequestsPerSecond, o),
	}
	err := r.all(ctx, wants)
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

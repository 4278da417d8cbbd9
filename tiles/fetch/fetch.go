package fetch

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"net/http"
	"net/url"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// Shelf is what a run needs of an office store.
type Shelf interface {
	store.Writer
	store.CoverReader
}

// Run asks a source for the wanted tiles and keeps them on a shelf. Wants come
// in tile order; they are drawn while the run has the lease, so a sequence that
// reads the shelf sees what runs before this one brought. An error among them
// ends the run: nothing behind it is asked for.
//
// Leases: the run waits for the lease of the shelf. When another run waits, it
// lets the requests in flight end, writes what came, hands the lease over with
// the state of the pace, and takes it again later. From then on it looks up
// every want before it asks.
//
// Absent tiles: 404, 204 and an image that the operator named as a placeholder
// make a hole, unless an image is held. Then the image is kept as it is and
// counted as Withdrawn, and the source is asked again when a hole would be: an
// afternoon of 404s must not cost a crew its imagery.
// 410 says that the tile is gone for good, and makes a hole in any case.
//
// Failing source: a held tile that is no longer fresh stands in when confirming
// it fails by a response of 500, 502, 503 or 504 or by the network, as long as
// the source allowed it (RFC 5861, stale-if-error), or always with
// Options.StandIn. It stays as it is and is asked for again the next time.
//
// With Options.KeepTrying a source that fails in this way ends the run only
// after it has not answered for that long; until then it is asked again after
// growing pauses, by one worker until it answers. Hours, budget and pace hold
// as ever.
//
// Retries: at most 20 and half of all requests are retries.
//
// The tally is right whatever the error. Errors:
//
//   - source.Refused, before any request: the terms do not allow it; or the
//     source sends us to a host whose policy forbids it;
//   - [Failed]: the source failed; it wraps a *[Stop] if the run was ended
//     early, an *[Incomplete] if some tiles failed;
//   - [store.DiskFull], [store.Unreachable] and other errors of the store, among
//     the wants too;
//   - the context's error, when it ended the run.
//
// Whatever came before an error is kept: run again for the rest.
func Run(ctx context.Context, src source.Source, shelf Shelf, wants iter.Seq2[Want, error], o Options) (Tally, error) {
	if err := src.Refusal(); err != nil {
		return Tally{}, err
	}
	o, src = o.filled(), stated(src)
	rate := src.Terms.RequestsPerSecond
	if o.Unpaced {
		rate = 0
	}
	r := &run{
		src: src, o: o, shelf: shelf, began: o.Now().Truncate(time.Microsecond), started: time.Now(),
		pace: pace.New(rate, o.RecoverEvery), recorder: recorder{src, o.Now}, outage: outage{most: o.KeepTrying},
	}
	r.requests = requester{
		counter: &r.counter, src: src, o: o, client: httpget.Client(o.Client, src.Terms.Connections),
		agent: httpget.UserAgent(src.Terms.Contact), pace: r.pace,
	}
	err := r.leases(ctx, wants)
	tally := r.snapshot()
	o.Progress(tally)
	return tally, r.explain(ctx, err)
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

// explain says what a run failed at, where, and what to do.
func (r *run) explain(ctx context.Context, err error) error {
	where := fmt.Sprintf("source %q", r.src.Name)
	if u, err := url.Parse(r.src.URL); err == nil && u.Host != "" {
		where += " (" + u.Host + ")"
	}
	failed := &fault.Fault{Kind: Failed, Detail: "fetching tiles from " + where}
	s := stopOf(err)
	switch {
	case err != nil && ctx.Err() != nil && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)):
		return fmt.Errorf("fetching from %s was stopped; what came is kept: %w", where, ctx.Err())
	case s != nil:
		failed.Err, failed.Remedy = s, s.remedy
		return failed
	case err == nil && r.tally.Failed > 0:
		failed.Err, failed.Remedy = &Incomplete{r.tally.Failed, r.reasons}, "run again: only what is missing is asked for"
		return failed
	}
	return err
}

// Options are what a caller may set; the zero value is good.
type Options struct {
	// nil = one made for the source's terms; redirects are always handled here
	Client  *http.Client
	Unpaced bool // no pace: for a source on this computer
	// nil = time.Now; stamps tiles, decides hours and days, does not drive the pace
	Now func() time.Time
	// nil = none; at most 10 times a second and once at the end, never concurrently
	Progress func(Tally)
	Waiting  func()                            // called once when another run has the lease; nil = none
	Patient  bool                              // wait for the hour, the day or a long Retry-After instead of stopping
	Pausing  func(until time.Time, why string) // called before such a wait; nil = none
	// how long a failing source is asked again after its last answer, with growing pauses; 0 = not at all
	KeepTrying time.Duration
	// called once at the first such pause: when the run gives up, and why; nil = none
	Trying func(until time.Time, why string)
	// any held tile may stand in if the source fails, even if the source did not allow it
	StandIn      bool
	PassEvery    time.Duration // how often to check whether another run waits for the lease; 0 = 2 s
	RecoverEvery time.Duration // time without a 429 after which the rate grows by a tenth; 0 = 30 s
	BatchSize    int           // tiles in one write to the store; 0 = 128
	BatchEvery   time.Duration // longest time before a tile is written; 0 = 1 s
	MaxBytes     int64         // longest response accepted for a tile; 0 = 8 MiB
	Attempts     int           // tries for one tile; 0 = 4
	// wait before the first retry, doubled each time, up to 30 s; 0 = 500 ms
	Backoff time.Duration
	Timeout time.Duration // for one request with its response; 0 = 60 s
	Log     *slog.Logger  // nil = none; the key never appears
}

func (o Options) filled() Options {
	o.PassEvery = or(o.PassEvery, 2*time.Second)
	o.RecoverEvery = or(o.RecoverEvery, 30*time.Second)
	o.BatchSize = or(o.BatchSize, 128)
	o.BatchEvery = or(o.BatchEvery, time.Second)
	o.MaxBytes = or(o.MaxBytes, httpget.MaxTile)
	o.Attempts = or(o.Attempts, 4)
	o.Backoff = or(o.Backoff, 500*time.Millisecond)
	o.Timeout = or(o.Timeout, time.Minute)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Progress == nil {
		o.Progress = func(Tally) {}
	}
	if o.Waiting == nil {
		o.Waiting = func() {}
	}
	if o.Pausing == nil {
		o.Pausing = func(time.Time, string) {}
	}
	if o.Trying == nil {
		o.Trying = func(time.Time, string) {}
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

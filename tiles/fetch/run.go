package fetch

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"sync"
	"time"

	"golang.org/x/sync/singleflight"

	"groundsheet/tiles/source"
)

const (
	failuresInRow = 10               // then the source is taken to be down
	reasonsKept   = 5                // of failed tiles, for the message
	longestBack   = 30 * time.Second // between two tries for one tile
	retriesFree   = 20               // retries that a run has in any case
	retriesShare  = 2                // beyond them, at most one request in so many is a retry
)

// run is the state that the workers of one Run share.
type run struct {
	src    source.Source
	o      Options
	client *http.Client
	shelf  Shelf
	agent  string
	pace   *pace
	gate   *gate // of this turn
	rooms  rooms
	flight singleflight.Group // the same request is sent once, whoever wants it
	ends   ending
	trying trying

	began   time.Time // by Options.Now
	started time.Time // by the clock of this machine, as the times of requests are
	told    bool      // Options.Waiting was called
	looksUp bool      // another run had a turn since this one began

	drawing sync.Mutex // guards what follows
	next    func() (job, error, bool)
	back    []job // left undone by a turn; never more than connections
	dry     bool  // nothing more to draw

	mu      sync.Mutex // guards what follows
	tally   Tally
	inRow   int // tiles that failed since the last good answer
	reasons []string
	down    *down
}

// settle asks for a job until there is an answer or the attempts are used up.
// No outcome and no error is a failed job; an error ends the turn.
func (r *run) settle(ctx context.Context, j job) ([]outcome, error) {
	address, err := r.address(j)
	if err != nil {
		return nil, err
	}
	if err := r.gate.open(); err != nil {
		return nil, err
	}
	with := shared(j.wants)
	for attempt := 1; ; attempt++ {
		got, bad, err := r.tryOnce(ctx, j, address, with)
		if err == nil && bad == nil {
			r.succeeded()
			return got, nil
		}
		if err == nil && (bad.final || attempt >= r.o.Attempts || r.trying.fails()) {
			return nil, r.failed(j, address, attempt, bad)
		}
		if err == nil {
			if bad.unasked {
				with = conditions{}
			}
			r.o.Log.Debug("tile is asked for again", "tile", j.first.String(), "attempt", attempt, "reason", r.src.Redact(bad.why))
			err = r.again(ctx, j, attempt, bad)
		}
		if err != nil {
			return nil, r.endOrStand(j, err)
		}
	}
}

// tryOnce sends one request, or shares one that is on its way, and judges it.
func (r *run) tryOnce(ctx context.Context, j job, address string, with conditions) ([]outcome, *trouble, error) {
	rep, bad, err := r.ask(ctx, address, with, len(j.wants))
	if bad != nil || err != nil {
		return nil, bad, err
	}
	return r.judge(j, with, rep)
}

func (r *run) address(j job) (string, error) {
	if j.n > 1 {
		return r.src.BlockAddress(j.first)
	}
	return r.src.Address(j.first)
}

// again counts a retry and waits before it, unless the source said how long to
// wait: then the pace holds every worker back.
func (r *run) again(ctx context.Context, j job, attempt int, bad *trouble) error {
	var tally Tally
	wait := min(r.o.Backoff<<min(attempt-1, 16), longestBack)
	wait = wait/2 + rand.N(wait) // so that workers do not come back together
	if bad.told {
		wait = 0
	}
	r.count(func(t *Tally) {
		tally = *t
		if mayRetry(tally) {
			t.Retries++
			t.Waited += wait
		}
	})
	if !mayRetry(tally) {
		if h, later := r.tryLater(j, bad, true, bad.why); later {
			return h
		}
		return r.stopped(StopRetries, fmt.Sprintf("%d of %d requests had to be sent again, the last one because: %s", tally.Retries, tally.Requests, bad.why), bad.err,
			"the source is in trouble: run again when it has recovered; what came is kept")
	}
	return r.ends.wait(ctx, func(ctx context.Context) error { return sleep(ctx, wait) })
}

// mayRetry keeps retries from becoming the load that a weak source dies of.
func mayRetry(t Tally) bool { return t.Retries < retriesFree+t.Requests/retriesShare }

func (r *run) succeeded() {
	r.mu.Lock()
	r.inRow = 0
	r.mu.Unlock()
	r.trying.answered()
	r.pace.trust()
}

// failed counts a job that is given up; an error ends the run.
func (r *run) failed(j job, address string, attempts int, bad *trouble) error {
	reason := fmt.Sprintf("%s (%s): %s", j.first, r.src.Redact(address), r.src.Redact(bad.why))
	if attempts > 1 {
		reason += fmt.Sprintf(" (%d times)", attempts)
	}
	r.o.Log.Warn("tile failed", "reason", reason)
	r.mu.Lock()
	r.inRow++
	inRow := r.inRow
	r.mu.Unlock()
	if h, later := r.tryLater(j, bad, bad.unreachable || inRow >= failuresInRow || attempts == 1, bad.why); h != nil {
		return h
	} else if later {
		return nil
	}
	lost := r.standInSome(j, bad.outage)
	r.mu.Lock()
	r.tally.Failed += lost
	if lost > 0 && len(r.reasons) < reasonsKept {
		r.reasons = append(r.reasons, reason)
	}
	r.mu.Unlock()
	var stop error
	switch {
	case bad.unreachable:
		stop = r.stopped(StopUnreachable, r.triedFor(bad.kind()), bad.err,
			"check the network and the address in sources.toml, then run again: what came is kept")
	case inRow >= failuresInRow:
		stop = r.stopped(StopRow, fmt.Sprintf("%d tiles in a row failed, the last one %s", inRow, reason), nil,
			"look at the reason, then run again: what came is kept")
	default:
		return nil
	}
	if lost > 0 {
		return stop
	}
	r.goDown(stop, bad.outage)
	return nil
}

func (r *run) count(add func(*Tally)) {
	r.mu.Lock()
	add(&r.tally)
	r.mu.Unlock()
}

func (r *run) snapshot() Tally {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.tally
}

// where names source and host.
func (r *run) where() string {
	u, err := url.Parse(r.src.URL)
	if err != nil || u.Host == "" {
		return fmt.Sprintf("source %q", r.src.Name)
	}
	return fmt.Sprintf("source %q (%s)", r.src.Name, u.Host)
}

func (r *run) outside(err error, remedy string) error {
	return &Outside{"fetching tiles", r.where(), err, remedy}
}

// stopped is the error that ends a run early. The cause is kept only when its
// text does not hold the key.
func (r *run) stopped(why Stop, detail string, cause error, remedy string) error {
	if cause != nil && r.src.Redact(cause.Error()) != cause.Error() {
		cause = errors.New(r.src.Redact(cause.Error()))
	}
	return r.outside(&Stopped{Why: why, Detail: r.src.Redact(detail), Err: cause}, remedy)
}

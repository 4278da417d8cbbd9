package fetch

import (
	"context"
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
)

// lease is the right to ask the source, and how it ends while workers are busy.
type lease struct {
	store.Lease
	quota *quota

	waits context.Context // ends when no further request may leave; its cause may be a *Stop
	close context.CancelCauseFunc
	over  atomic.Bool
}

func newLease(ctx context.Context, l store.Lease, q *quota) *lease {
	waits, cancel := context.WithCancelCause(ctx)
	return &lease{Lease: l, quota: q, waits: waits, close: cancel}
}

// end ends the lease for a reason: a *[Stop] if the run has to wait, nil if
// another run waits. Requests in flight go on.
func (l *lease) end(reason error) {
	l.over.Store(true)
	l.close(reason)
}

// wait calls a function that waits. It is a *Stop of scopeQueue when no further
// request may leave.
func (l *lease) wait(ctx context.Context, do func(context.Context) error) error {
	if l.waits.Err() != nil && ctx.Err() == nil {
		return errLeaseOver()
	}
	both, cancel := context.WithCancel(ctx)
	defer cancel()
	defer context.AfterFunc(l.waits, cancel)()
	err := do(both)
	if err != nil && ctx.Err() == nil && l.waits.Err() != nil {
		return errLeaseOver()
	}
	return err
}

func errLeaseOver() *Stop { return &Stop{scope: scopeQueue, Detail: "the lease ended"} }

// admit waits until a request may leave; call sent, unless it is nil, when it
// has been written.
func (l *lease) admit(ctx context.Context, p *pace.Limiter) (sent func(), err error) {
	if p.Unlimited() && !l.over.Load() { // nothing to wait for
		return nil, ctx.Err()
	}
	err = l.wait(ctx, func(ctx context.Context) (err error) {
		sent, err = p.Wait(ctx)
		return err
	})
	return sent, err
}

// watch ends the lease when another run waits for it, and the run if the lease
// is lost.
func (l *lease) watch(ctx context.Context, every time.Duration, stop context.CancelCauseFunc) {
	ticker := time.NewTicker(every)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		wanted, err := l.Wanted(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			stop(err)
			return
		case wanted:
			l.end(nil)
			return
		}
	}
}

// quota keeps to the hours and the daily budget of the terms. The budget is
// taken in portions of two seconds of requests: several runs share it, and a
// killed run loses no more than a portion.
type quota struct {
	terms     *source.Terms
	now       func() time.Time
	lease     store.Lease
	uncounted bool // this computer itself is asked

	mu   sync.Mutex
	day  string
	left int // taken from the day and not used
}

// take takes so many tiles from the day's budget. A *Stop of scopeLease says
// when there is some again, or when the hours allow it.
func (q *quota) take(ctx context.Context, tiles int) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if err := q.open(); err != nil || q.uncounted {
		return err
	}
	now, limit := q.now(), q.terms.TilesPerDay
	if limit > 0 {
		tiles = min(tiles, limit) // else a block larger than a day's budget could never be fetched
	}
	if day := q.terms.Day(now); day != q.day {
		if err := q.unspend(ctx); err != nil {
			return err
		}
		q.day = day
	}
	if q.left < tiles {
		portion := int(min(max(math.Ceil(2*q.terms.RequestsPerSecond), 1), 1000))
		granted, err := q.lease.Spend(ctx, q.day, max(portion, tiles-q.left), limit)
		if err != nil {
			return err
		}
		q.left += granted
	}
	if q.left < tiles {
		return notYet(StopBudget, fmt.Sprintf("the %d tiles a day of its terms are used up", limit), q.tomorrow(now))
	}
	q.left -= tiles
	return nil
}

// open is a *Stop of scopeLease outside the hours of the terms.
func (q *quota) open() error {
	now := q.now()
	if q.terms.OpenAt(now) {
		return nil
	}
	return notYet(StopHours, "its terms do not allow this hour", q.terms.NextOpening(now))
}

func notYet(why Reason, detail string, until time.Time) *Stop {
	return &Stop{
		Why: why, Detail: detail + "; it goes on at " + measure.Moment(until), Until: until,
		scope: scopeLease, remedy: "run again after that time: what came is kept",
	}
}

// giveBack returns what was taken and not used.
func (q *quota) giveBack(ctx context.Context) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.unspend(ctx)
}

func (q *quota) unspend(ctx context.Context) error {
	n := q.left
	q.left = 0
	if n == 0 {
		return nil
	}
	return q.lease.Unspend(ctx, q.day, n)
}

// tomorrow is when the next day of the terms begins, or opens.
func (q *quota) tomorrow(now time.Time) time.Time {
	today := q.terms.Day(now)
	next := now.Truncate(time.Second)
	// Days differ in length where the clocks change: by hours, then by seconds.
	for _, step := range []time.Duration{time.Hour, time.Minute, time.Second} {
		for q.terms.Day(next.Add(step)) == today {
			next = next.Add(step)
		}
	}
	return q.terms.NextOpening(next.Add(time.Second))
}

package fetch

import (
	"context"
	"sync/atomic"
	"time"

	"groundsheet/tiles/fetch/pace"
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

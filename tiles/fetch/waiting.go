package fetch

import (
	"context"
	"time"

	"groundsheet/tiles/fetch/pace"
	"groundsheet/tiles/store"
)

// Waiting returns the end of the pause that a source asked a run to keep, by the
// clock of now and at most a day ahead. It is zero if there is no pause, and
// while a run holds the lease. Errors are those of the store.
func Waiting(ctx context.Context, shelf store.Reader, now time.Time) (until time.Time, err error) {
	until, err = shelf.Pause(ctx)
	if err != nil || !until.After(now) {
		return time.Time{}, err
	}
	return pace.Cap(until, now), nil
}

// EndWait lifts the wait of a source that was seen to answer, so that the next
// run asks it at once; the request that saw it counts for the pace. lifted is
// false, and nothing is changed, when another run has the turn: that run looks
// for itself. Errors are those of the store.
func EndWait(ctx context.Context, shelf store.Writer) (lifted bool, err error) {
	waits, stop := context.WithCancel(ctx)
	defer stop()
	turn, err := shelf.Lease(waits, stop)
	if err != nil {
		if ctx.Err() == nil && waits.Err() != nil {
			return false, nil
		}
		return false, err
	}
	left, _ := turn.RateState()
	left.Until, left.Left = time.Time{}, append(left.Left, time.Now())
	return true, turn.Release(context.WithoutCancel(ctx), left)
}

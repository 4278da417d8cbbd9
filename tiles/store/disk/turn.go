package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"groundsheet/tiles/sqlite"
)

// turnPoll is how often a waiting run looks whether its turn has come.
const turnPoll = 300 * time.Millisecond

// Turn waits until no other process fetches for this shelf, so that two runs
// neither ask for the same tiles nor double the rate that the terms allow.
// waiting is told once when there is somebody to wait for; it may be nil. The
// turn ends with release, or with the process, however that ends.
func (s *Shelf) Turn(ctx context.Context, waiting func()) (release func() error, err error) {
	// The lock of an empty SQLite file is the system's own and goes with its
	// holder; a file that merely stands there would outlive a killed run.
	db := sqlite.Open(s.path+"-turn", sqlite.Options{Settings: "mode=rwc&_busy_timeout=0&_txlock=exclusive"})
	db.SetMaxOpenConns(1)
	for told := false; ; {
		tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
		if err == nil {
			return func() error { return errors.Join(tx.Rollback(), db.Close()) }, nil
		}
		if sqlite.Sort(err) != sqlite.Busy {
			return nil, errors.Join(s.fault("cannot use", err), db.Close())
		}
		if !told && waiting != nil {
			waiting()
		}
		told = true
		select {
		case <-time.After(turnPoll):
		case <-ctx.Done():
			return nil, errors.Join(fmt.Errorf("waiting for another run: %w", ctx.Err()), db.Close())
		}
	}
}

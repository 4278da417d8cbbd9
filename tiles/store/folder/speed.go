package folder

import (
	"context"
	"database/sql"
	"time"
)

// runsKept is how many of the latest runs of fetching speak for the speed.
const runsKept = 20

// fewest requests make a speed worth keeping: fewer are mostly start-up.
const fewest = 20

// Timed implements [store.Writer].
func (s *Shelf) Timed(ctx context.Context, requests int, took time.Duration) error {
	if requests < fewest {
		return nil
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO runs VALUES (?, ?, ?)`, time.Now().UnixMicro(), requests, took.Microseconds())
		return err
	})
}

// PerSecond implements [store.Reader].
func (s *Shelf) PerSecond(ctx context.Context) (float64, error) {
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return 0, err
	}
	var rate sql.NullFloat64
	err = db.QueryRowContext(ctx, `SELECT 1e6 * sum(requests) / sum(micros) FROM (SELECT requests, micros FROM runs ORDER BY ended DESC LIMIT ?)`, runsKept).Scan(&rate)
	if err != nil {
		return 0, s.fault("cannot read", err)
	}
	return rate.Float64, nil
}

package folder

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// leasePoll is how often a waiting run looks whether its turn has come.
const leasePoll = 100 * time.Millisecond

// Lease implements [store.Writer]. Two files beside the shelf are locked: one by
// the run that asks the source, one by the run that is next.
func (s *Shelf) Lease(ctx context.Context, waiting func()) (store.Lease, error) {
	tell := sync.OnceFunc(func() {
		if waiting != nil {
			waiting()
		}
	})
	next, err := s.lock(ctx, "-next", tell)
	if err != nil {
		return nil, err
	}
	held, err := s.lock(ctx, "-turn", tell)
	err = errors.Join(err, next.free())
	if err != nil {
		return nil, errors.Join(err, held.free())
	}
	t := &lease{s: s, lock: held}
	if err := t.load(ctx); err != nil {
		return nil, errors.Join(err, held.free())
	}
	return t, nil
}

// lock is one that the system holds for a process, and ends with it. A file
// that merely stands there would outlive a killed run, so it is the lock of an
// empty SQLite file.
type lock struct {
	db *sql.DB
	tx *sql.Tx
}

// free may be called on no lock.
func (l *lock) free() error {
	if l == nil {
		return nil
	}
	return errors.Join(l.tx.Rollback(), l.db.Close())
}

// try gives no lock when somebody else has it.
func (s *Shelf) try(ctx context.Context, which string) (*lock, error) {
	db := sqlite.Open(s.path+which, sqlite.Options{Settings: "mode=rwc&_busy_timeout=0&_txlock=exclusive"})
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
	if err == nil {
		return &lock{db, tx}, nil
	}
	closeErr := db.Close()
	if sqlite.Sort(err) == sqlite.Busy {
		return nil, closeErr
	}
	return nil, errors.Join(s.fault("cannot use", err), closeErr)
}

func (s *Shelf) lock(ctx context.Context, which string, waiting func()) (*lock, error) {
	for {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("waiting for another run: %w", err)
		}
		l, err := s.try(ctx, which)
		if l != nil || err != nil {
			return l, err
		}
		waiting()
		select {
		case <-time.After(leasePoll):
		case <-ctx.Done():
		}
	}
}

// lease implements [store.Lease].
type lease struct {
	s    *Shelf
	lock *lock
	pace store.RateState
	ok   bool
	over atomic.Bool // handed over: nothing may be spent any more
}

// load takes what the run before left out of the file, so that a run that is
// killed leaves nothing that is taken for the truth.
func (t *lease) load(ctx context.Context) error {
	return t.s.write(ctx, func(tx *sql.Tx) error {
		var state string
		err := tx.QueryRow(`DELETE FROM pace RETURNING state`).Scan(&state)
		if errors.Is(err, sql.ErrNoRows) {
			// A shelf nobody ever asked for has nothing to hand over either.
			t.ok = t.unused(tx)
			return nil
		}
		if err != nil {
			return err
		}
		t.ok = json.Unmarshal([]byte(state), &t.pace) == nil
		return nil
	})
}

// unused reports whether no run has spent anything yet.
func (t *lease) unused(tx *sql.Tx) bool {
	var n int
	err := tx.QueryRow(`SELECT count(*) FROM (SELECT 1 FROM spent UNION ALL SELECT 1 FROM tiles LIMIT 1)`).Scan(&n)
	return err == nil && n == 0
}

// RateState implements [store.Lease].
func (t *lease) RateState() (store.RateState, bool) { return t.pace, t.ok }

// Wanted implements [store.Lease].
func (t *lease) Wanted(ctx context.Context) (bool, error) {
	next, err := t.s.try(ctx, "-next")
	if err != nil {
		return false, err
	}
	return next == nil, next.free()
}

// Spend implements [store.Lease].
func (t *lease) Spend(ctx context.Context, day string, n, limit int) (granted int, err error) {
	if t.over.Load() {
		return 0, store.ErrReleased
	}
	err = t.s.write(ctx, func(tx *sql.Tx) error {
		var used int
		err := tx.QueryRow(`SELECT requests FROM spent WHERE day = ?`, day).Scan(&used)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		granted = max(n, 0)
		if limit > 0 {
			granted = max(min(granted, limit-used), 0)
		}
		return add(tx, day, granted)
	})
	if err != nil {
		return 0, err
	}
	return granted, nil
}

// Unspend implements [store.Lease].
func (t *lease) Unspend(ctx context.Context, day string, n int) error {
	return t.s.write(ctx, func(tx *sql.Tx) error { return add(tx, day, -n) })
}

func add(tx *sql.Tx, day string, n int) error {
	_, err := tx.Exec(`INSERT INTO spent VALUES (?1, max(?2, 0)) ON CONFLICT (day) DO UPDATE SET requests = max(requests + ?2, 0)`, day, n)
	return err
}

// Release implements [store.Lease].
func (t *lease) Release(ctx context.Context, p store.RateState) error {
	t.over.Store(true)
	state, err := json.Marshal(p)
	if err == nil {
		err = t.s.write(context.WithoutCancel(ctx), func(tx *sql.Tx) error {
			_, err := tx.Exec(`INSERT OR REPLACE INTO pace VALUES (1, ?)`, string(state))
			return err
		})
	}
	return errors.Join(err, t.lock.free())
}

// Spent implements [store.Reader].
func (s *Shelf) Spent(ctx context.Context, day string) (int, error) {
	var n int
	err := s.row(ctx, `SELECT coalesce(sum(requests), 0) FROM spent WHERE day = ?`, []any{day}, &n)
	return n, err
}

// Pause implements [store.Reader].
func (s *Shelf) Pause(ctx context.Context) (time.Time, error) {
	var state string
	var pace store.RateState
	if err := s.row(ctx, `SELECT state FROM pace`, nil, &state); err != nil {
		return time.Time{}, err
	}
	if json.Unmarshal([]byte(state), &pace) != nil {
		return time.Time{}, nil // what cannot be read is no pace: see load
	}
	return pace.Until, nil
}

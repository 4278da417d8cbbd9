package postgres

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/store"
)

const (
	// leasePoll is how often a waiting run tries the lock.
	leasePoll = 100 * time.Millisecond
	// answerWithin bounds one statement of a lease. A lease whose server does not
	// answer is lost.
	answerWithin = 30 * time.Second
)

// lease implements [store.Lease] on a connection of its own, whose session holds an
// advisory lock. A lost connection loses the lock and the lease.
type lease struct {
	s              *Shelf
	fetching, next int64 // keys of the locks: of the run that fetches, and of the next one
	pace           store.RateState
	handed         bool
	forget         func() bool // stops waiting for the end of the store

	mu   sync.Mutex // guards conn
	conn *pgx.Conn  // nil after Release
}

// Lease implements [store.Writer]. Its session takes two locks in order: next, then
// fetching; then it unlocks next. So the run that holds fetching can see whether
// another run waits.
func (s *Shelf) Lease(ctx context.Context, waiting func()) (store.Lease, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("waiting for another run: %w", err)
	}
	if err := s.prepare(ctx); err != nil {
		return nil, err
	}
	conn, err := s.session(ctx)
	if err != nil {
		return nil, err
	}
	t := &lease{s: s, conn: conn,
		fetching: lockKey("groundsheet turn " + s.name), next: lockKey("groundsheet next " + s.name)}
	if err := t.take(ctx, waiting); err != nil {
		t.leave()
		return nil, err
	}
	t.forget = context.AfterFunc(s.life, t.leave)
	return t, nil
}

// session is a connection beside the pool.
func (s *Shelf) session(ctx context.Context) (*pgx.Conn, error) {
	conn, err := pgx.ConnectConfig(ctx, s.pool.Config().ConnConfig)
	if err != nil {
		return nil, s.fault(ctx, "cannot open", err)
	}
	err = settle(ctx, conn, s.statement)
	if err == nil {
		// A lease may idle for longer than the database allows other sessions.
		// Servers before version 14 lack the setting.
		_, err = conn.Exec(ctx, `SELECT set_config(name, '0', false) FROM pg_settings WHERE name = 'idle_session_timeout'`)
	}
	if err != nil {
		closeConn(conn)
		return nil, s.fault(ctx, "cannot open", err)
	}
	return conn, nil
}

func closeConn(conn *pgx.Conn) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	_ = conn.Close(ctx) // the server ends the session at the latest when it sees the line closed
}

// leave closes the connection, which ends the lease.
func (t *lease) leave() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.conn != nil {
		closeConn(t.conn)
		t.conn = nil
	}
}

func (t *lease) take(ctx context.Context, waiting func()) error {
	tell := sync.OnceFunc(func() {
		if waiting != nil {
			waiting()
		}
	})
	if err := t.lock(ctx, t.next, tell); err != nil {
		return err
	}
	if err := t.lock(ctx, t.fetching, tell); err != nil {
		return err
	}
	return t.ask(ctx, func(ctx context.Context, conn *pgx.Conn) error {
		if _, err := conn.Exec(ctx, `SELECT pg_advisory_unlock($1)`, t.next); err != nil {
			return err
		}
		return t.load(ctx, conn)
	})
}

// lock polls, so that a waiting run can be canceled and notices a lost server.
func (t *lease) lock(ctx context.Context, key int64, waiting func()) error {
	for {
		var got bool
		err := t.ask(ctx, func(ctx context.Context, conn *pgx.Conn) error {
			return conn.QueryRow(ctx, `SELECT pg_try_advisory_lock($1)`, key).Scan(&got)
		})
		if err != nil || got {
			return err
		}
		waiting()
		select {
		case <-time.After(leasePoll):
		case <-ctx.Done():
			return fmt.Errorf("waiting for another run: %w", ctx.Err())
		case <-t.s.life.Done():
			return store.ErrClosed
		}
	}
}

// ask runs statements on the lease's connection. It checks the caller's context
// first only: canceling a statement would close the connection and lose the lease.
func (t *lease) ask(ctx context.Context, do func(context.Context, *pgx.Conn) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.s.life.Err() != nil { // leave may still be on its way
		return store.ErrClosed
	}
	if t.conn == nil {
		return store.ErrReleased
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), answerWithin)
	defer cancel()
	if err := do(ctx, t.conn); err != nil {
		if t.conn.IsClosed() && !told(err) {
			return store.NoServer(t.s.where, fmt.Errorf("the lease to fetch is lost: %w", err))
		}
		return t.s.fault(context.WithoutCancel(ctx), "cannot use", err)
	}
	return nil
}

// Wanted implements [store.Lease]. A waiting run holds the lock next.
func (t *lease) Wanted(ctx context.Context) (wanted bool, err error) {
	err = t.ask(ctx, func(ctx context.Context, conn *pgx.Conn) error {
		return conn.QueryRow(ctx, `SELECT CASE WHEN pg_try_advisory_lock($1) THEN NOT pg_advisory_unlock($1) ELSE true END`, t.next).Scan(&wanted)
	})
	return wanted, err
}

// Spend implements [store.Lease]. One statement reads and takes, so concurrent calls
// never exceed the limit. It runs on the lease's connection: a run that lost its
// lease gets nothing.
func (t *lease) Spend(ctx context.Context, day string, n, limit int) (granted int, err error) {
	err = t.ask(ctx, func(ctx context.Context, conn *pgx.Conn) error {
		return conn.QueryRow(ctx, `INSERT INTO groundsheet.spent AS s (shelf, day, requests, granted) VALUES ($1, $2, least($3::int, $4::int), least($3, $4))
			ON CONFLICT (shelf, day) DO UPDATE SET
				requests = s.requests + greatest(least($3, $4 - s.requests), 0),
				granted = greatest(least($3, $4 - s.requests), 0)
			RETURNING granted`, t.s.name, day, max(n, 0), allowance(limit)).Scan(&granted)
	})
	return granted, err
}

// allowance replaces a limit of 0 (none) by one that no run reaches.
func allowance(limit int) int {
	if limit <= 0 {
		return 1 << 30
	}
	return limit
}

// Unspend implements [store.Lease].
func (t *lease) Unspend(ctx context.Context, day string, n int) error {
	return t.ask(ctx, func(ctx context.Context, conn *pgx.Conn) error {
		_, err := conn.Exec(ctx, `UPDATE groundsheet.spent SET requests = greatest(requests - $3::int, 0) WHERE shelf = $1 AND day = $2`, t.s.name, day, n)
		return err
	})
}

// RateState implements [store.Lease].
func (t *lease) RateState() (store.RateState, bool) { return t.pace, t.handed }

// Release implements [store.Lease].
func (t *lease) Release(ctx context.Context, p store.RateState) error {
	err := t.ask(context.WithoutCancel(ctx), func(ctx context.Context, conn *pgx.Conn) error {
		if err := t.hand(ctx, conn, p); err != nil {
			return err
		}
		_, err := conn.Exec(ctx, `SELECT pg_advisory_unlock($1)`, t.fetching)
		return err
	})
	t.forget()
	t.leave()
	return err
}

// The clocks of computers differ, so a pace goes from one to the next as ages
// and is kept by the clock of the server. The way to the server and back makes
// requests look younger than they are, never older: the pace is kept.

// serverClock is the server's clock in microseconds.
const serverClock = `(extract(epoch FROM clock_timestamp()) * 1000000)::bigint`

// load takes the pace that the run before left, and notes that this one has
// handed nothing over yet.
func (t *lease) load(ctx context.Context, conn *pgx.Conn) error {
	var now, until int64
	var left []int64
	err := conn.QueryRow(ctx, `SELECT handed, left_at, until, share, `+serverClock+` FROM groundsheet.turns WHERE shelf = $1`, t.s.name).
		Scan(&t.handed, &left, &until, &t.pace.Share, &now)
	here := t.s.now()
	if errors.Is(err, pgx.ErrNoRows) {
		err = t.untouched(ctx, conn)
	}
	if err != nil {
		return err
	}
	if t.handed {
		for _, at := range left {
			t.pace.Left = append(t.pace.Left, here.Add(-micro(now-at)))
		}
		if until != 0 {
			t.pace.Until = here.Add(micro(until - now))
		}
	} else {
		t.pace = store.RateState{}
	}
	_, err = conn.Exec(ctx, `INSERT INTO groundsheet.turns (shelf, handed, left_at, until, share) VALUES ($1, false, '{}', 0, 0)
		ON CONFLICT (shelf) DO UPDATE SET handed = false, left_at = '{}', until = 0, share = 0`, t.s.name)
	return err
}

// untouched: a source that nobody ever asked has nothing to hand over either.
func (t *lease) untouched(ctx context.Context, conn *pgx.Conn) error {
	return conn.QueryRow(ctx, `SELECT NOT EXISTS (SELECT 1 FROM groundsheet.spent WHERE shelf = $1)
		AND NOT EXISTS (SELECT 1 FROM groundsheet.tiles t JOIN groundsheet.shelves s ON s.id = t.shelf WHERE s.name = $1)`, t.s.name).Scan(&t.handed)
}

// hand leaves the pace to the next run.
func (t *lease) hand(ctx context.Context, conn *pgx.Conn, p store.RateState) error {
	now := t.s.now()
	ages := make([]int64, len(p.Left))
	for i, at := range p.Left {
		ages[i] = now.Sub(at).Microseconds()
	}
	var pause *int64
	if !p.Until.IsZero() {
		d := p.Until.Sub(now).Microseconds()
		pause = &d
	}
	_, err := conn.Exec(ctx, `WITH clock AS (SELECT `+serverClock+` AS now)
		UPDATE groundsheet.turns SET handed = true, share = $4, until = coalesce(clock.now + $3::bigint, 0),
			left_at = ARRAY (SELECT clock.now - age FROM unnest($2::bigint[]) WITH ORDINALITY AS a (age, n) ORDER BY n)
		FROM clock WHERE shelf = $1`, t.s.name, ages, pause, p.Share)
	return err
}

func micro(n int64) time.Duration { return time.Duration(n) * time.Microsecond }

// Pause implements [store.Reader].
func (s *Shelf) Pause(ctx context.Context) (at time.Time, err error) {
	err = s.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		var now, until int64
		err := conn.QueryRow(ctx, `SELECT until, `+serverClock+` FROM groundsheet.turns WHERE shelf = $1`,
			s.name).Scan(&until, &now)
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		if until != 0 {
			at = s.now().Add(micro(until - now))
		}
		return err
	})
	return at, err
}

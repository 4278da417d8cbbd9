package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/store"
)

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
		err := conn.QueryRow(ctx, `SELECT until, `+serverClock+` FROM groundsheet.turns WHERE shelf = $1`, s.name).Scan(&until, &now)
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

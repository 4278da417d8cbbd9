package postgres

import (
	"context"
	"errors"
	"sync/atomic"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Shelf is what is held of one source. It implements [store.Shelf].
type Shelf struct {
	*database
	name  string
	known atomic.Int32 // the number of the shelf; 0 = not known yet
}

// Name implements [store.Shelf].
func (s *Shelf) Name() string { return s.name }

// look runs do on a connection, unless the shelf was never written.
func (s *Shelf) look(ctx context.Context, do func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error) error {
	return s.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		return s.with(ctx, conn, do)
	})
}

// lookLong is look with the time limit of housework.
func (s *Shelf) lookLong(ctx context.Context, do func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error) error {
	return s.housework(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		return s.with(ctx, conn, do)
	})
}

func (s *Shelf) with(ctx context.Context, conn *pgxpool.Conn, do func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error) error {
	id, err := s.number(ctx, conn)
	if err != nil || id == 0 {
		return err
	}
	return do(ctx, conn, id)
}

// number is that of the shelf; 0 when it was never written.
func (s *Shelf) number(ctx context.Context, db asker) (int32, error) {
	if id := s.known.Load(); id != 0 {
		return id, nil
	}
	var id int32
	err := db.QueryRow(ctx, `SELECT id FROM groundsheet.shelves WHERE name = $1`, s.name).Scan(&id)
	if errors.Is(err, pgx.ErrNoRows) || unmade(err) {
		return 0, nil
	}
	s.known.Store(id)
	return id, err
}

// written reports whether the shelf was ever written.
func (s *Shelf) written(ctx context.Context) (there bool, err error) {
	err = s.look(ctx, func(context.Context, *pgxpool.Conn, int32) error {
		there = true
		return nil
	})
	return there, err
}

// write runs a transaction that changes the shelf, and makes the shelf when it
// is missing.
func (s *Shelf) write(ctx context.Context, do func(ctx context.Context, tx pgx.Tx, shelf int32) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := s.prepare(ctx); err != nil {
		return err
	}
	id, err := s.made(ctx)
	if err != nil {
		return err
	}
	return s.transact(ctx, func(ctx context.Context, tx pgx.Tx) error { return do(ctx, tx, id) })
}

// made gives the number of the shelf and makes it when it is missing.
func (s *Shelf) made(ctx context.Context) (int32, error) {
	if id, err := s.number(ctx, s.pool); err != nil || id != 0 {
		return id, s.fault(ctx, "cannot write", err)
	}
	err := s.transact(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO groundsheet.shelves (name) VALUES ($1) ON CONFLICT DO NOTHING`, s.name)
		return err
	})
	if err != nil {
		return 0, err
	}
	id, err := s.number(ctx, s.pool)
	return id, s.fault(ctx, "cannot write", err)
}

// oneWriter locks a shelf for one writing transaction, so that none drops an image
// that another one refers to. It comes first and ends with the transaction.
const oneWriter = `SELECT pg_advisory_xact_lock(20819, $1)`

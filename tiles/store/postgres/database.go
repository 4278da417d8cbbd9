package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/store"
)

// read runs do on a pooled connection; closing the store cancels it. A missing schema
// is no error: nothing was written yet.
func (d *database) read(ctx context.Context, do func(context.Context, *pgxpool.Conn) error) error {
	if d.life.Err() != nil {
		return store.ErrClosed
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	defer context.AfterFunc(d.life, cancel)()
	err := d.pool.AcquireFunc(ctx, func(conn *pgxpool.Conn) error { return do(ctx, conn) })
	switch {
	case err == nil || unmade(err):
		return nil
	case d.life.Err() != nil:
		return store.ErrClosed
	}
	return d.fault(ctx, "cannot read", err)
}

// housework is a read with the long time limit of the same name.
func (d *database) housework(ctx context.Context, do func(context.Context, *pgxpool.Conn) error) error {
	return d.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		if err := patience(ctx, conn, housework); err != nil {
			return err
		}
		err := do(ctx, conn)
		if conn.Conn().IsClosed() {
			return err
		}
		return errors.Join(err, patience(ctx, conn, d.statement))
	})
}

func patience(ctx context.Context, conn *pgxpool.Conn, d time.Duration) error {
	_, err := conn.Exec(ctx, `SELECT set_config('statement_timeout', $1, false)`, milliseconds(d))
	return err
}

// tries bounds how often a transaction is begun that conflicts with another one.
const tries = 4

// transact runs a transaction and rolls it back when do fails. It checks the context
// first only: a transaction is short and runs to its end.
func (d *database) transact(ctx context.Context, do func(context.Context, pgx.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d.life.Err() != nil {
		return store.ErrClosed
	}
	// The server enforces its own time limit; this one is for a silent server.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*d.statement+connecting)
	defer cancel()
	for try := 1; ; try++ {
		err := pgx.BeginFunc(ctx, d.pool, func(tx pgx.Tx) error { return do(ctx, tx) })
		if err == nil {
			return nil
		}
		if try == tries || !again(err) {
			return d.fault(context.Background(), "cannot write", err)
		}
	}
}

// again reports that nothing was written and that another try may succeed: 40001
// is a serialization failure, 40P01 a deadlock (PostgreSQL, appendix A).
func again(err error) bool {
	var pe *pgconn.PgError
	if errors.As(err, &pe) {
		return pe.Code == "40001" || pe.Code == "40P01"
	}
	var no *pgconn.ConnectError
	return pgconn.SafeToRetry(err) && !errors.As(err, &no)
}

// lockKey is the number of a lock.
func lockKey(name string) int64 {
	sum := sha256.Sum256([]byte(name))
	return int64(binary.BigEndian.Uint64(sum[:]))
}

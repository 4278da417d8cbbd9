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

// read lends a connection. It ends early with the store. Where nothing was
// ever written there is nothing to read.
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

// housework is a read that may take long.
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

// tries is how often a transaction is begun that gets into another's way.
const tries = 4

// transact runs a transaction; it is rolled back when do fails. The context is
// looked at before: once begun, a transaction is short and runs to its end, as
// half a batch helps nobody.
func (d *database) transact(ctx context.Context, do func(context.Context, pgx.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if d.life.Err() != nil {
		return store.ErrClosed
	}
	// The server ends what takes too long; this is for one that says nothing.
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

// again reports that nothing was done and the next try may well succeed: 40001
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

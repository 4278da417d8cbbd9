package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/fault"
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
	if pe, ok := errors.AsType[*pgconn.PgError](err); ok {
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

// fault turns an error of the database into one that says what to do. The
// context is the caller's: when it has ended, that is the reason.
func (d *database) fault(ctx context.Context, doing string, err error) error {
	var server *pgconn.PgError
	var scan pgx.ScanArgError
	switch {
	case err == nil || told(err):
		return err
	case ctx.Err() != nil:
		return fmt.Errorf("%s %s: %w", doing, d.where, ctx.Err())
	case errors.As(err, &server):
		return d.serverFault(doing, server.Code, err)
	case errors.As(err, &scan) || errors.Is(err, pgx.ErrNoRows):
		return fmt.Errorf("%s %s: %w", doing, d.where, err)
	}
	// What is left is the way to the server.
	return store.NoServer(d.where, err)
}

// told reports that an error says already what to do.
func told(err error) bool {
	var f *fault.Fault
	return errors.As(err, &f)
}

// serverFault sorts by the codes of PostgreSQL, appendix A.
func (d *database) serverFault(doing, code string, err error) error {
	switch {
	case code == "53100":
		return store.FullDisk(d.where, err)
	case code == "53300", // too many connections
		code == "3D000",                // no such database
		strings.HasPrefix(code, "08"),  // connection
		strings.HasPrefix(code, "28"),  // not let in
		strings.HasPrefix(code, "57P"): // shut down, starting up, crashed, session ended
		return store.NoServer(d.where, err)
	case strings.HasPrefix(code, "XX0"): // XX001 data corrupted, XX002 index corrupted
		return store.Damage(d.where, err)
	case code == "42501":
		return fmt.Errorf("%s %s: %w; let the owner of the schema groundsheet grant you its use (or, before it is made, CREATE on the database)", doing, d.where, err)
	case code == "57014" || code == "55P03": // cancelled by its time limit, lock not available
		return fmt.Errorf("%s %s: the server took too long: %w; another computer may be busy with the store: run again",
			doing, d.where, err)
	}
	return fmt.Errorf("%s %s: %w", doing, d.where, err)
}

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
func (s *Shelf) lookLong(ctx context.Context,
	do func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error) error {
	return s.housework(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		return s.with(ctx, conn, do)
	})
}

func (s *Shelf) with(ctx context.Context, conn *pgxpool.Conn,
	do func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error) error {
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

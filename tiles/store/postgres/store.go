package postgres

import (
	"context"
	"fmt"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles/store"
)

// Store is a database with shelves. It implements [store.Store] and is safe
// for use by several goroutines.
type Store struct {
	*database

	mu      sync.Mutex // guards shelves
	shelves map[string]*Shelf
}

// database is what a store and its shelves share.
type database struct {
	pool      *pgxpool.Pool
	where     string
	statement time.Duration
	now       func() time.Time
	steps     []string

	life context.Context // ends with Close
	end  context.CancelFunc

	preparing sync.Mutex // guards prepared
	prepared  bool
}

func newStore(config *pgxpool.Config, o Options, steps []string) *Store {
	d := &database{where: where(config.ConnConfig), statement: o.statement(), now: o.Now, steps: steps}
	if d.now == nil {
		d.now = time.Now
	}
	d.life, d.end = context.WithCancel(context.Background())
	return &Store{database: d, shelves: map[string]*Shelf{}}
}

// Where implements [store.Store].
func (s *Store) Where() string { return s.where }

// Shelf implements [store.Store].
func (s *Store) Shelf(name string) (store.Shelf, error) {
	if !store.GoodName(name) {
		return nil, fmt.Errorf("shelf %q: a name is letters, digits and dashes", name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.life.Err() != nil {
		return nil, store.ErrClosed
	}
	shelf, ok := s.shelves[name]
	if !ok {
		shelf = &Shelf{database: s.database, name: name}
		s.shelves[name] = shelf
	}
	return shelf, nil
}

// Shelves implements [store.Store].
func (s *Store) Shelves(ctx context.Context) (names []string, err error) {
	err = s.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		rows, err := conn.Query(ctx, `SELECT name FROM groundsheet.shelves ORDER BY name`)
		if err != nil {
			return err
		}
		names, err = pgx.CollectRows(rows, pgx.RowTo[string])
		return err
	})
	return names, err
}

// Close implements [store.Store]. It waits for writes that still run.
func (s *Store) Close() error {
	s.end()
	s.pool.Close()
	return nil
}

// Jobs implements [store.Store].
func (s *Store) Jobs(ctx context.Context) (out []store.PackedJob, err error) {
	err = s.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		rows, err := conn.Query(ctx, `SELECT key, base, name, number, shelf, pack, covers, packed, closed,
			coalesce(until, ''), coalesce(reason, '') FROM groundsheet.jobs LEFT JOIN groundsheet.kept USING (key) ORDER BY key, base`)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, s.job)
		return err
	})
	return out, err
}

func (s *Store) job(row pgx.CollectableRow) (j store.PackedJob, err error) {
	var key, name, number, pack, covers, reason []byte
	var packed, closed int64
	if err := row.Scan(&key, &j.Base, &name, &number, &j.Shelf, &pack, &covers, &packed, &closed,
		&j.Keep.Until, &reason); err != nil {
		return j, err
	}
	j.Key, j.Name, j.Number, j.Pack = string(key), string(name), string(number), string(pack)
	j.Keep.Reason = string(reason)
	j.Packed, j.Closed = store.Moment(packed), store.Moment(closed)
	if j.Covers, err = store.ReadCovers(covers); err != nil {
		return j, store.Damage(s.where, err)
	}
	return j, nil
}

// NoteJob implements [store.Store].
func (s *Store) NoteJob(ctx context.Context, j store.PackedJob) error {
	covers, err := store.CoversText(j.Covers)
	if err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := s.prepare(ctx); err != nil {
		return err
	}
	return s.transact(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO groundsheet.jobs (key, base, name, number, shelf, pack, covers, packed, closed)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (key, base) DO UPDATE SET (name, number, shelf, pack, covers, packed, closed) =
			(excluded.name, excluded.number, excluded.shelf, excluded.pack, excluded.covers, excluded.packed, excluded.closed)`,
			bytea(j.Key), j.Base, bytea(j.Name), bytea(j.Number), j.Shelf, bytea(j.Pack), covers,
			store.Micros(j.Packed), store.Micros(j.Closed))
		return err
	})
}

// CloseJob implements [store.Store].
func (s *Store) CloseJob(ctx context.Context, key string, at time.Time) (bool, error) {
	return s.changeJob(ctx, `UPDATE groundsheet.jobs SET closed = $2 WHERE key = $1`, key, store.Micros(at))
}

// KeepJob implements [store.Store].
func (s *Store) KeepJob(ctx context.Context, key string, k store.Keeping) (bool, error) {
	if k == (store.Keeping{}) {
		return s.changeJob(ctx, `DELETE FROM groundsheet.kept WHERE key = $1`, key)
	}
	return s.changeJob(ctx, `INSERT INTO groundsheet.kept VALUES ($1, $2, $3)
		ON CONFLICT (key) DO UPDATE SET (until, reason) = (excluded.until, excluded.reason)`, key, k.Until, bytea(k.Reason))
}

// changeJob makes a change of a job; false when no job has the key.
func (s *Store) changeJob(ctx context.Context, change, key string, values ...any) (known bool, err error) {
	err = s.transact(ctx, func(ctx context.Context, tx pgx.Tx) error {
		err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM groundsheet.jobs WHERE key = $1)`, bytea(key)).Scan(&known)
		if err != nil || !known {
			return err
		}
		_, err = tx.Exec(ctx, change, append([]any{bytea(key)}, values...)...)
		return err
	})
	if unmade(err) {
		return false, nil
	}
	return known, err
}

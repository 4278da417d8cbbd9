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

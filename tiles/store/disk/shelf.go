package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"groundsheet/tiles/sqlite"
)

// busyWait is how long a statement waits for another process's write.
const busyWait = 10 * time.Second

// Shelf is what is held of one source. It is safe for use by several
// goroutines and processes.
type Shelf struct {
	path   string
	limits []string

	mu     sync.Mutex // guards db and closed
	db     *sql.DB
	closed bool

	writing sync.Mutex // one write at a time here; the database sees to other processes
}

// handle gives the open database; nil when the file is missing and create is
// false.
func (s *Shelf) handle(ctx context.Context, create bool) (*sql.DB, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errors.New("the store is closed")
	}
	if s.db != nil {
		return s.db, nil
	}
	if !create {
		if _, err := os.Stat(s.path); missing(err) {
			return nil, nil
		} else if err != nil {
			return nil, s.fault("cannot open", err)
		}
	}
	db := s.connect()
	if err := s.prepare(ctx, db); err != nil {
		db.Close()
		return nil, err
	}
	s.db = db
	return db, nil
}

func (s *Shelf) connect() *sql.DB {
	db := sqlite.Open(s.path, sqlite.Options{
		Settings: fmt.Sprintf("mode=rwc&_busy_timeout=%d&_txlock=immediate", busyWait.Milliseconds()),
		Pragmas: append([]string{
			"page_size=16384", // takes effect only while the file is empty; blobs of 18 KB like it
			"synchronous=FULL",
			"trusted_schema=OFF",
			"cell_size_check=ON",
			"journal_size_limit=67108864",
		}, s.limits...),
	})
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(4)
	return db
}

func (s *Shelf) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	if s.db == nil {
		return nil
	}
	return s.fault("cannot close", s.db.Close())
}

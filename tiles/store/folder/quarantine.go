package folder

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"groundsheet/tiles/store"
)

// besides are the files that belong to a shelf's file: a journal that is moved
// away from it could not be played back.
func besides() []string { return []string{"-journal", "-wal", "-shm"} }

// Quarantine moves the damaged file of a shelf out of the way, to
// NAME.sqlite.damaged-YYYYMMDD-HHMMSS, and puts a new one in its place with
// every record of the old one that can still be read and proves by its hash.
// What was spent of the daily budgets goes along, as far as it can be read. The
// other shelves stay usable meanwhile. It refuses while a run fetches for the
// shelf.
func (s *Store) Quarantine(ctx context.Context, name string) (aside string, saved int64, err error) {
	shelf, err := s.shelf(name)
	if err != nil {
		return "", 0, err
	}
	held, err := shelf.try(ctx, "-turn")
	if err != nil {
		return "", 0, err
	}
	if held == nil {
		return "", 0, fmt.Errorf("cannot set %s aside: another run is fetching for it; wait for it to end, then run again", shelf.path)
	}
	defer func() { err = errors.Join(err, held.free()) }()
	if aside, err = shelf.move(); err != nil {
		return "", 0, err
	}
	saved, err = shelf.save(ctx, aside)
	return aside, saved, err
}

// QuarantineRegister does the same with the register of jobs. A job that is lost
// is noted again when it is packed again.
func (s *Store) QuarantineRegister(ctx context.Context) (aside string, saved int64, err error) {
	if aside, err = s.jobs.move(); err != nil {
		return "", 0, err
	}
	damaged, err := openDamaged(aside)
	if err != nil {
		return aside, 0, err
	}
	defer damaged.db.Close()
	for _, j := range damaged.jobs(ctx) {
		if err := s.NoteJob(ctx, j); err != nil {
			return aside, saved, err
		}
		if j.Keep != (store.Keeping{}) {
			if _, err := s.KeepJob(ctx, j.Key, j.Keep); err != nil {
				return aside, saved, err
			}
		}
		saved++
	}
	return aside, saved, ctx.Err()
}

// move closes the file and gives it another name, with what belongs to it.
func (f *file) move() (to string, err error) {
	to = f.path + ".damaged-" + time.Now().Format("20060102-150405")
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.closed {
		return "", store.ErrClosed
	}
	if f.db != nil {
		_ = f.db.Close() // it is damaged: what this says is known
		f.db = nil
	}
	if _, err := os.Stat(to); err == nil {
		return "", fmt.Errorf("%s is there already; run again in a second", to)
	}
	for _, part := range append(besides(), "") { // the file itself last: until then it can be opened as it was
		err := os.Rename(f.path+part, to+part)
		if err != nil && !missing(err) {
			return "", fmt.Errorf("cannot move %s out of the way: %w", filepath.Base(f.path+part), err)
		}
	}
	return to, nil
}

// save copies the readable part of a damaged file into this shelf, which has a
// new file.
func (s *Shelf) save(ctx context.Context, from string) (saved int64, err error) {
	damaged, err := openDamaged(from)
	if err != nil {
		return 0, err
	}
	defer damaged.db.Close()
	columns, err := damaged.columns(ctx)
	if err != nil {
		return 0, ctx.Err() // nothing of it can be read
	}
	// A damaged file is no reason to ask for more than the terms allow.
	err = s.write(ctx, func(tx *sql.Tx) error {
		for day, n := range damaged.spent(ctx) {
			if err := add(tx, day, n); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	var batch []store.Held
	flush := func() error {
		if _, err := s.Keep(ctx, batch); err != nil {
			return err
		}
		saved += int64(len(batch))
		clear(batch)
		batch = batch[:0]
		return nil
	}
	err = damaged.records(ctx, columns, func(r store.Held) error {
		if batch = append(batch, r); len(batch) < imageChunk {
			return nil
		}
		return flush()
	})
	if err != nil {
		return saved, err
	}
	return saved, flush()
}

package folder

import (
	"context"
	"database/sql"
	"path/filepath"
	"time"

	"groundsheet/tiles/store"
)

// registerFile is the file of the jobs that were packed from the store.
func registerFile(dir string) *file {
	return &file{path: filepath.Join(dir, "jobs.register"), kind: 0x47534a52, schema: `
CREATE TABLE jobs (
	key TEXT NOT NULL, base INTEGER NOT NULL, name TEXT NOT NULL, number TEXT NOT NULL,
	shelf TEXT NOT NULL, pack TEXT NOT NULL, covers BLOB NOT NULL,
	packed INTEGER NOT NULL, closed INTEGER NOT NULL, -- microseconds since 1970, UTC; 0 = open
	PRIMARY KEY (key, base)
);`}
}

// Jobs implements [store.Store].
func (s *Store) Jobs(ctx context.Context) ([]store.Job, error) {
	return rowsOf(ctx, s.jobs, func(rows *sql.Rows) (store.Job, error) { return scanJob(rows, s.jobs.path) }, jobRows+`ORDER BY key, base`)
}

const jobRows = `SELECT key, base, name, number, shelf, pack, covers, packed, closed FROM jobs `

func scanJob(rows *sql.Rows, path string) (j store.Job, err error) {
	var packed, closed int64
	var covers []byte
	err = rows.Scan(&j.Key, &j.Base, &j.Name, &j.Number, &j.Shelf, &j.Pack, &covers, &packed, &closed)
	if err != nil {
		return j, err
	}
	j.Packed, j.Closed = store.Moment(packed), store.Moment(closed)
	if j.Covers, err = store.ReadCovers(covers); err != nil {
		return j, store.Damage(path, err)
	}
	return j, nil
}

// RegisterSound has the engine look at the register of jobs, as
// [store.Maintenance] does at a shelf.
func (s *Store) RegisterSound(ctx context.Context) ([]string, error) {
	flaws, err := s.jobs.sound(ctx)
	if err != nil || len(flaws) > 0 {
		return flaws, err
	}
	_, err = s.Jobs(ctx)
	return nil, err
}

// NoteJob implements [store.Store].
func (s *Store) NoteJob(ctx context.Context, j store.Job) error {
	covers, err := store.CoversText(j.Covers)
	if err != nil {
		return err
	}
	return s.jobs.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT OR REPLACE INTO jobs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			j.Key, j.Base, j.Name, j.Number, j.Shelf, j.Pack, covers, store.Micros(j.Packed), store.Micros(j.Closed))
		return err
	})
}

// CloseJob implements [store.Store].
func (s *Store) CloseJob(ctx context.Context, key string, at time.Time) (known bool, err error) {
	if db, err := s.jobs.handle(ctx, false); err != nil || db == nil {
		return false, err
	}
	err = s.jobs.write(ctx, func(tx *sql.Tx) error {
		res, err := tx.Exec(`UPDATE jobs SET closed = ? WHERE key = ?`, store.Micros(at), key)
		if err != nil {
			return err
		}
		n, err := res.RowsAffected()
		known = n > 0
		return err
	})
	return known, err
}

package folder

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"slices"

	"groundsheet/tiles"
)

// Drop implements [store.Maintenance].
func (s *Shelf) Drop(ctx context.Context, ids []tiles.ID) error {
	if db, err := s.handle(ctx, false); err != nil || db == nil || len(ids) == 0 {
		return err
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		k, err := newKeeper(tx)
		if err != nil {
			return err
		}
		for _, t := range ids {
			var old sql.NullInt64
			err := tx.QueryRow(`DELETE FROM tiles WHERE z = ? AND y = ? AND x = ? RETURNING image`, t.Z, t.Y, t.X).Scan(&old)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			if old.Valid {
				k.left[old.Int64] = true
			}
		}
		return k.dropUnused()
	})
}

// pagesAtOnce bounds the journal of one step of giving back: 16 MB, of an older file 32 MB.
const pagesAtOnce = 2000

// GiveBack implements [store.Maintenance]. A file of an earlier version is written
// anew, which needs room for what is left of it meanwhile.
func (s *Shelf) GiveBack(ctx context.Context) (int64, error) {
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return 0, err
	}
	before := fileSize(s.path)
	s.writing.Lock()
	defer s.writing.Unlock()
	var mode, free int
	if err := db.QueryRowContext(ctx, `SELECT v.auto_vacuum, f.freelist_count FROM pragma_auto_vacuum v, pragma_freelist_count f`).Scan(&mode, &free); err != nil {
		return 0, s.fault("cannot read", err)
	}
	if free == 0 {
		return 0, nil
	}
	if mode != 2 {
		_, err := db.ExecContext(ctx, `VACUUM`)
		return before - fileSize(s.path), s.fault("cannot give room back", err)
	}
	for ; free > 0; free -= pagesAtOnce {
		if err = s.giveSome(ctx, db); err != nil {
			break
		}
	}
	return before - fileSize(s.path), s.fault("cannot give room back", err)
}

// giveSome frees one step; the pragma does its work while its rows are read.
func (s *Shelf) giveSome(ctx context.Context, db *sql.DB) error {
	rows, err := db.QueryContext(ctx, `PRAGMA incremental_vacuum(2000)`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() { // each row is a page given back
	}
	return rows.Err()
}

func fileSize(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// Sound implements [store.Maintenance].
func (s *Shelf) Sound(ctx context.Context) ([]string, error) { return s.sound(ctx) }

func (f *file) sound(ctx context.Context) ([]string, error) {
	lines, err := rowsOf(ctx, f, func(rows *sql.Rows) (line string, err error) {
		err = rows.Scan(&line)
		return line, err
	}, `PRAGMA integrity_check(100)`)
	return slices.DeleteFunc(lines, func(line string) bool { return line == "ok" }), err
}

// Orphans implements [store.Maintenance].
func (s *Shelf) Orphans(ctx context.Context, drop bool) (n int64, err error) {
	const unused = ` FROM images WHERE NOT EXISTS (SELECT 1 FROM tiles WHERE image = images.id)`
	if err := s.row(ctx, `SELECT count(*)`+unused, nil, &n); err != nil || !drop || n == 0 {
		return n, err
	}
	return n, s.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`DELETE` + unused)
		return err
	})
}

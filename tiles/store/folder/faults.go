package folder

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// fault turns an error of the database into one that says what to do.
func (f *file) fault(doing string, err error) error {
	var told *fault.Fault
	if err == nil || errors.As(err, &told) {
		return err
	}
	switch sqlite.Sort(err) {
	case sqlite.NoRoom:
		return store.FullDisk(f.path, err)
	case sqlite.Damaged:
		return store.Damage(f.path, err)
	case sqlite.Busy:
		return fmt.Errorf("%s %s: another run has been writing to it for %s; wait for it to end, then run again: %w", doing, f.path, measure.Duration(busyWait), err)
	case sqlite.Denied:
		return fmt.Errorf("%s %s: not permitted here (the store needs a folder you may write to): %w", doing, f.path, err)
	}
	return fmt.Errorf("%s %s: %w", doing, f.path, err)
}

// missing reports whether a file does not exist.
func missing(err error) bool { return errors.Is(err, fs.ErrNotExist) }

// row reads one row; nothing where there is none or the file does not exist yet.
func (f *file) row(ctx context.Context, query string, args []any, into ...any) error {
	db, err := f.handle(ctx, false)
	if err != nil || db == nil {
		return err
	}
	if err = db.QueryRowContext(ctx, query, args...).Scan(into...); errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	return f.fault("cannot read", err)
}

// rowsOf reads all rows of a query, each by one call of scan; nothing from a
// file that does not exist yet.
func rowsOf[T any](ctx context.Context, f *file, scan func(*sql.Rows) (T, error), query string, args ...any) (out []T, err error) {
	db, err := f.handle(ctx, false)
	if err != nil || db == nil {
		return nil, err
	}
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, f.fault("cannot read", err)
	}
	defer rows.Close()
	for rows.Next() {
		one, err := scan(rows)
		if err != nil {
			return nil, f.fault("cannot read", err)
		}
		out = append(out, one)
	}
	return out, f.fault("cannot read", rows.Err())
}

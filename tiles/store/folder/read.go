package folder

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"iter"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// Shelf is what is held of one source, in one file. It implements
// [store.Shelf].
type Shelf struct {
	*file
	name string
}

// Name implements [store.Shelf].
func (s *Shelf) Name() string { return s.name }

const (
	rowColumns = `SELECT t.z, t.y, t.x, t.hash, t.bytes, t.media, t.source, t.fetched, t.fresh_until,
	 t.etag, t.last_modified, t.no_transform, t.immutable, t.usable_until`
	withImage = `, i.data FROM tiles t LEFT JOIN images i ON i.id = t.image`
	bare      = `, NULL FROM tiles t`
	inSpan    = ` WHERE t.z = ? AND t.y = ? AND t.x BETWEEN ? AND ? ORDER BY t.x LIMIT ?`
	after     = ` WHERE (t.z, t.y, t.x) > (?, ?, ?) ORDER BY t.z, t.y, t.x LIMIT ?`
)

// Records read in one go: no statement stays open while the caller works, and
// memory stays bounded.
const (
	bareChunk  = 1024
	imageChunk = 64
)

// In implements [store.Reader].
func (s *Shelf) In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
	return s.walk(ctx, data, inSpan, func(w *walker) error {
		for _, span := range c.Spans() {
			for next := int64(span.First); next <= int64(span.Last); {
				last, more, err := w.step(ctx, prove, c.Zoom(), span.Row, next, span.Last)
				if err != nil {
					return err
				}
				if !more {
					break
				}
				next = int64(last.X) + 1
			}
		}
		return nil
	})
}

// All implements [store.Maintenance].
func (s *Shelf) All(ctx context.Context, data bool) iter.Seq2[store.Held, error] {
	return s.walk(ctx, data, after, func(w *walker) error {
		last, more, err := w.step(ctx, unproved, -1, 0, 0)
		for err == nil && more {
			last, more, err = w.step(ctx, unproved, last.Z, last.Y, last.X)
		}
		return err
	})
}

// Get implements [store.Reader].
func (s *Shelf) Get(ctx context.Context, t tiles.ID) (store.Held, bool, error) {
	if !t.Valid() {
		return store.Held{}, false, nil
	}
	one := tiles.NewCover(int(t.Z), []tiles.Span{{Row: t.Y, First: t.X, Last: t.X}})
	for r, err := range s.In(ctx, one, true) {
		return r, err == nil, err
	}
	return store.Held{}, false, nil
}

// walker reads records in goes; no statement is open while the caller works.
type walker struct {
	s     *Shelf
	stmt  *sql.Stmt
	data  bool
	rows  int
	recs  []store.Held
	yield func(store.Held, error) bool
}

// enough ends a walk that its caller ended.
type enough struct{}

func (enough) Error() string { return "the caller has enough" }

func (s *Shelf) walk(ctx context.Context, data bool, where string,
	goes func(*walker) error) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		db, err := s.handle(ctx, false)
		if err == nil && db == nil {
			return
		}
		if err == nil {
			w := &walker{s: s, data: data, yield: yield, rows: bareChunk}
			query := rowColumns + bare
			if data {
				w.rows, query = imageChunk, rowColumns+withImage
			}
			if w.stmt, err = db.PrepareContext(ctx, query+where); err != nil {
				err = s.fault("cannot read", err)
			} else {
				err = goes(w)
				w.stmt.Close()
			}
		}
		if err != nil && !errors.Is(err, enough{}) {
			yield(store.Held{}, err)
		}
	}
}

// step reads one go and hands it to the caller. It gives the last tile, and
// whether there may be more.
func (w *walker) step(ctx context.Context, check func(*walker, store.Held) error,
	args ...any) (last tiles.ID, more bool, err error) {
	if w.recs, err = w.read(ctx, append(args, w.rows)); err != nil {
		return last, false, err
	}
	for _, r := range w.recs {
		if err := check(w, r); err != nil {
			return last, false, err
		}
		if !w.yield(r, nil) {
			return last, false, enough{}
		}
		last = r.ID
	}
	more = len(w.recs) == w.rows
	clear(w.recs) // let go of the images
	return last, more, nil
}

func (w *walker) read(ctx context.Context, args []any) ([]store.Held, error) {
	rows, err := w.stmt.QueryContext(ctx, args...)
	if err != nil {
		return nil, w.s.fault("cannot read", err)
	}
	defer rows.Close()
	recs := w.recs[:0]
	for rows.Next() {
		r, err := scan(rows)
		if err != nil {
			return nil, w.s.fault("cannot read", err)
		}
		recs = append(recs, r)
	}
	return recs, w.s.fault("cannot read", rows.Err())
}

// prove compares an image with its hash: a flipped bit is seen by nobody else
// before the field.
func prove(w *walker, r store.Held) error {
	if w.data && !r.Hole && sha256.Sum256(r.Data) != r.Hash {
		return store.Damage(w.s.path, fmt.Errorf("the image of tile %s does not match its SHA-256", r.ID))
	}
	return nil
}

func unproved(*walker, store.Held) error { return nil }

func scan(rows *sql.Rows) (store.Held, error) {
	var r store.Held
	var hash []byte
	var fetched, fresh, usable int64
	err := rows.Scan(&r.Z, &r.Y, &r.X, &hash, &r.Bytes, &r.Media, &r.Source, &fetched, &fresh,
		&r.ETag, &r.LastModified, &r.Fixed, &r.Immutable, &usable, &r.Data)
	r.Fetched, r.FreshUntil, r.UsableUntil = store.Moment(fetched), store.Moment(fresh), store.Moment(usable)
	r.Hole = hash == nil
	copy(r.Hash[:], hash)
	return r, err
}

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
		return fmt.Errorf("%s %s: another run has been writing to it for %s; wait for it to end, then run again: %w",
			doing, f.path, measure.Duration(busyWait), err)
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
func rowsOf[T any](ctx context.Context, f *file, scan func(*sql.Rows) (T, error), query string,
	args ...any) (out []T, err error) {
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

package folder

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"slices"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
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

// Measured implements [store.Reader]. It reads every row of the shelf, but no
// image.
func (s *Shelf) Measured(ctx context.Context) (map[int]store.Measure, error) {
	out := map[int]store.Measure{}
	_, err := rowsOf(ctx, s.file, func(rows *sql.Rows) (m store.Measure, err error) {
		var zoom int
		err = rows.Scan(&zoom, &m.Tiles, &m.Holes, &m.MeanBytes)
		out[zoom] = m
		return m, err
	}, `SELECT z, count(hash), count(*) - count(hash), coalesce(total(bytes) / nullif(count(hash), 0), 0) FROM tiles GROUP BY z`)
	return out, err
}

// Repeated implements [store.Reader].
func (s *Shelf) Repeated(ctx context.Context, places int) ([]store.Repeat, error) {
	var images []int64
	repeats, err := rowsOf(ctx, s.file, func(rows *sql.Rows) (r store.Repeat, err error) {
		var image int64
		var hash []byte
		err = rows.Scan(&image, &hash, &r.Places)
		copy(r.Hash[:], hash)
		images = append(images, image)
		return r, err
	}, `SELECT r.image, i.hash, r.n FROM
		(SELECT image, count(*) AS n FROM tiles WHERE image IS NOT NULL GROUP BY image HAVING n >= ? ORDER BY n DESC, image LIMIT ?) r
		JOIN images i ON i.id = r.image ORDER BY r.n DESC, r.image`, max(places, 2), store.MostRepeats)
	for i, image := range images {
		if err != nil {
			break
		}
		repeats[i].Some, err = s.places(ctx, image, repeats[i].Places)
	}
	return repeats, err
}

// places lists some of the tiles with an image, evenly spread in tile order.
func (s *Shelf) places(ctx context.Context, image int64, all int) ([]tiles.ID, error) {
	each := store.PlaceStep(all)
	return rowsOf(ctx, s.file, func(rows *sql.Rows) (t tiles.ID, err error) {
		err = rows.Scan(&t.Z, &t.Y, &t.X)
		return t, err
	}, `SELECT z, y, x FROM
		(SELECT z, y, x, row_number() OVER (ORDER BY z, y, x) AS n FROM tiles WHERE image = ?) WHERE (n - 1) % ? = 0`, image, each)
}

// Size implements [store.Maintenance]. Bytes is the length of the shelf's file.
func (s *Shelf) Size(ctx context.Context) (store.Size, error) {
	var z store.Size
	var oldest, newest sql.NullInt64
	err := s.row(ctx, `SELECT count(hash), count(*) - count(hash), min(fetched), max(fetched),
		(SELECT count(*) FROM images) FROM tiles`, nil, &z.Tiles, &z.Holes, &oldest, &newest, &z.Images)
	if err != nil {
		return store.Size{}, err
	}
	if oldest.Valid {
		z.Oldest, z.Newest = store.Moment(oldest.Int64), store.Moment(newest.Int64)
	}
	if info, err := os.Stat(s.path); err == nil {
		z.Bytes = info.Size()
	}
	return z, nil
}

// Timed implements [store.Writer].
func (s *Shelf) Timed(ctx context.Context, requests int, took time.Duration) error {
	if requests < store.FewestTimed {
		return nil
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.Exec(`INSERT INTO runs VALUES (?, ?, ?)`, time.Now().UnixMicro(), requests, took.Microseconds())
		return err
	})
}

// PerSecond implements [store.Reader].
func (s *Shelf) PerSecond(ctx context.Context) (float64, error) {
	var rate float64
	err := s.row(ctx, `SELECT coalesce(1e6 * sum(requests) / sum(micros), 0) FROM (SELECT requests, micros FROM runs ORDER BY ended DESC LIMIT ?)`, []any{store.TimedRuns}, &rate)
	return rate, err
}

package folder

import (
	"context"
	"database/sql"
	"os"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

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

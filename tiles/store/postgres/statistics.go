package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Measured implements [store.Reader]. It reads every row of the shelf, but no
// image.
func (s *Shelf) Measured(ctx context.Context) (map[int]store.Measure, error) {
	out := map[int]store.Measure{}
	err := s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, `SELECT z, count(hash), count(*) - count(hash), sum(bytes)::float8
			FROM groundsheet.tiles WHERE shelf = $1 GROUP BY z`, shelf)
		if err != nil {
			return err
		}
		var zoom int
		var m store.Measure
		var bytes float64
		_, err = pgx.ForEachRow(rows, []any{&zoom, &m.Tiles, &m.Holes, &bytes}, func() error {
			if m.MeanBytes = 0; m.Tiles > 0 {
				m.MeanBytes = bytes / float64(m.Tiles)
			}
			out[zoom] = m
			return nil
		})
		return err
	})
	return out, err
}

// Repeated implements [store.Reader].
func (s *Shelf) Repeated(ctx context.Context, places int) (repeats []store.Repeat, err error) {
	err = s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, `SELECT hash, count(*) FROM groundsheet.tiles WHERE shelf = $1 AND hash IS NOT NULL
			GROUP BY hash HAVING count(*) >= $2 ORDER BY count(*) DESC, hash LIMIT $3`, shelf, max(places, 2), store.MostRepeats)
		if err != nil {
			return err
		}
		var hash []byte
		var n int
		_, err = pgx.ForEachRow(rows, []any{&hash, &n}, func() error {
			repeats = append(repeats, store.Repeat{Hash: [32]byte(hash), Places: n})
			return nil
		})
		if err != nil {
			return err
		}
		return somewhere(ctx, conn, shelf, repeats)
	})
	return repeats, err
}

// somewhere adds some of the places, evenly spread in tile order.
func somewhere(ctx context.Context, conn *pgxpool.Conn, shelf int32, repeats []store.Repeat) error {
	var b pgx.Batch
	for i := range repeats {
		r := &repeats[i]
		each := store.PlaceStep(r.Places)
		b.Queue(`SELECT z, y, x FROM (SELECT z, y, x, row_number() OVER (ORDER BY z, y, x) - 1 AS n
			FROM groundsheet.tiles WHERE shelf = $1 AND hash = $2) AS p WHERE n % $3 = 0 ORDER BY n LIMIT $4`,
			shelf, r.Hash[:], each, store.MostPlaces).Query(func(rows pgx.Rows) error {
			var t tiles.ID
			_, err := pgx.ForEachRow(rows, []any{&t.Z, &t.Y, &t.X}, func() error {
				r.Some = append(r.Some, t)
				return nil
			})
			return err
		})
	}
	return conn.SendBatch(ctx, &b).Close()
}

// Timed implements [store.Writer].
func (s *Shelf) Timed(ctx context.Context, requests int, took time.Duration) error {
	if requests < store.FewestTimed {
		return nil
	}
	return s.write(ctx, func(ctx context.Context, tx pgx.Tx, shelf int32) error {
		_, err := tx.Exec(ctx, `INSERT INTO groundsheet.runs (shelf, requests, micros) VALUES ($1, $2, $3)`, shelf, requests, took.Microseconds())
		return err
	})
}

// PerSecond implements [store.Reader].
func (s *Shelf) PerSecond(ctx context.Context) (rate float64, err error) {
	err = s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		return conn.QueryRow(ctx, `SELECT coalesce(1e6 * sum(requests) / nullif(sum(micros), 0), 0)::float8
			FROM (SELECT requests, micros FROM groundsheet.runs WHERE shelf = $1 ORDER BY id DESC LIMIT $2) AS r`, shelf, store.TimedRuns).Scan(&rate)
	})
	return rate, err
}

// Spent implements [store.Reader].
func (s *Shelf) Spent(ctx context.Context, day string) (n int, err error) {
	err = s.read(ctx, func(ctx context.Context, conn *pgxpool.Conn) error {
		return conn.QueryRow(ctx, `SELECT coalesce(sum(requests), 0) FROM groundsheet.spent WHERE shelf = $1 AND day = $2`, s.name, day).Scan(&n)
	})
	return n, err
}

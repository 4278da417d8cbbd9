package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Drop implements [store.Maintenance].
func (s *Shelf) Drop(ctx context.Context, ids []tiles.ID) error {
	var recs []store.Held
	for _, t := range ids {
		if t.Valid() {
			recs = append(recs, store.Held{Tile: tiles.Tile{ID: t}})
		}
	}
	there, err := s.written(ctx)
	if err != nil || !there || len(recs) == 0 {
		return err
	}
	z, y, x := places(recs)
	return s.write(ctx, func(ctx context.Context, tx pgx.Tx, shelf int32) error {
		if _, err := tx.Exec(ctx, oneWriter, shelf); err != nil {
			return err
		}
		rows, err := tx.Query(ctx, `DELETE FROM groundsheet.tiles t USING unnest($2::int[], $3::int[], $4::int[]) AS k (z, y, x)
			WHERE t.shelf = $1 AND t.z = k.z AND t.y = k.y AND t.x = k.x RETURNING t.hash`, shelf, z, y, x)
		if err != nil {
			return err
		}
		left, err := pgx.CollectRows(rows, pgx.RowTo[[]byte]) // NULL for a hole
		if err != nil {
			return err
		}
		var b pgx.Batch
		queueUnused(&b, shelf, left)
		return tx.SendBatch(ctx, &b).Close()
	})
}

// Orphans implements [store.Maintenance].
func (s *Shelf) Orphans(ctx context.Context, drop bool) (n int64, err error) {
	const unused = ` FROM groundsheet.images i WHERE shelf = $1
		AND NOT EXISTS (SELECT 1 FROM groundsheet.tiles t WHERE t.shelf = i.shelf AND t.hash = i.hash)`
	err = s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		return conn.QueryRow(ctx, `SELECT count(*)`+unused, shelf).Scan(&n)
	})
	if err != nil || !drop || n == 0 {
		return n, err
	}
	return n, s.write(ctx, func(ctx context.Context, tx pgx.Tx, shelf int32) error {
		if _, err := tx.Exec(ctx, oneWriter, shelf); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, `DELETE`+unused, shelf)
		return err
	})
}

// room is about what the tiles and images of a shelf take with their indexes, in
// bytes, when no room is free between them: a large image lies in pieces of 1996
// bytes, four a page (TOAST, section 73.2 of PostgreSQL 15's manual; from memory).
// Measured: within a tenth of what VACUUM FULL left of images of 100 to 60,000 bytes.
const room = `(240 * t.own + coalesce(i.room, 0))`
const roomOfImage = `CASE WHEN bytes < 2000 THEN bytes + 200 ELSE ceil(bytes / 1996.0) * 2068 + 200 END`

// Size implements [store.Maintenance]. All shelves lie in the same two tables, so
// Bytes is this shelf's share of what those take with their indexes: of the
// images by their bytes, of the tiles by their rows. Room that is free inside the
// tables is left out: what is pruned counts as gone, or the same size would be
// asked for again by the next pruning.
func (s *Shelf) Size(ctx context.Context) (z store.Size, err error) {
	err = s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		var oldest, newest *int64
		err := conn.QueryRow(ctx, `WITH
			t AS (SELECT count(*) AS n, count(*) FILTER (WHERE shelf = $1) AS own, count(hash) FILTER (WHERE shelf = $1) AS images,
				min(fetched) FILTER (WHERE shelf = $1) AS oldest, max(fetched) FILTER (WHERE shelf = $1) AS newest FROM groundsheet.tiles),
			i AS (SELECT sum(bytes) AS bytes, sum(bytes) FILTER (WHERE shelf = $1) AS own, count(*) FILTER (WHERE shelf = $1) AS n,
				sum(`+roomOfImage+`) FILTER (WHERE shelf = $1) AS room FROM groundsheet.images)
			SELECT t.images, t.own - t.images, i.n, t.oldest, t.newest, least(`+room+`,
				coalesce(pg_total_relation_size('groundsheet.tiles') * t.own / nullif(t.n, 0), 0) +
				coalesce(pg_total_relation_size('groundsheet.images') * i.own / nullif(i.bytes, 0), 0))::bigint
			FROM t, i`, shelf).Scan(&z.Tiles, &z.Holes, &z.Images, &oldest, &newest, &z.Bytes)
		if oldest != nil && newest != nil {
			z.Oldest, z.Newest = store.Moment(*oldest), store.Moment(*newest)
		}
		return err
	})
	return z, err
}

// GiveBack implements [store.Maintenance]. It is a plain VACUUM, which keeps nobody
// out: room inside the tables can be used again, by any shelf, and what is free
// at their ends goes back to the disk. Only the latter is counted, so the
// answer is often 0. VACUUM FULL gives back all of it; it locks every run out
// meanwhile, so it is left to whoever looks after the database.
func (s *Shelf) GiveBack(ctx context.Context) (given int64, err error) {
	err = s.lookLong(ctx, func(ctx context.Context, conn *pgxpool.Conn, _ int32) error {
		before, err := taken(ctx, conn)
		if err != nil {
			return err
		}
		if _, err := conn.Exec(ctx, `VACUUM groundsheet.tiles, groundsheet.images`); err != nil {
			return err
		}
		after, err := taken(ctx, conn)
		given = max(before-after, 0) // others may be writing
		return err
	})
	return given, err
}

func taken(ctx context.Context, conn *pgxpool.Conn) (n int64, err error) {
	err = conn.QueryRow(ctx, `SELECT pg_total_relation_size('groundsheet.tiles') + pg_total_relation_size('groundsheet.images')`).Scan(&n)
	return n, err
}

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
		_, err := tx.Exec(ctx, `INSERT INTO groundsheet.runs (shelf, requests, micros) VALUES ($1, $2, $3)`,
			shelf, requests, took.Microseconds())
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

package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Renew implements [store.Writer].
func (s *Shelf) Renew(ctx context.Context, recs []store.Held) error {
	if len(recs) == 0 {
		return nil
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	there, err := s.written(ctx)
	if err == nil && !there {
		err = store.Absent(s.where, recs[0])
	}
	if err != nil {
		return err
	}
	return s.write(ctx, func(ctx context.Context, tx pgx.Tx, shelf int32) error {
		return s.renew(ctx, tx, shelf, lastOfEach(recs))
	})
}

func (s *Shelf) renew(ctx context.Context, tx pgx.Tx, shelf int32, rows []store.Held) error {
	c, found := columnsOf(rows), map[tiles.ID]bool{}
	var b pgx.Batch
	b.Queue(oneWriter, shelf)
	b.Queue(`UPDATE groundsheet.tiles t SET (`+marks+`) = (k.fetched, k.fresh, k.etag, k.modified, k.fixed, k.immutable, k.usable)
		FROM unnest($2::int[], $3::int[], $4::int[], $5::bigint[], $6::bigint[], $7::bytea[], $8::bytea[], $9::boolean[], $10::boolean[], $11::bigint[])
			AS k (z, y, x, fetched, fresh, etag, modified, fixed, immutable, usable)
		WHERE t.shelf = $1 AND t.z = k.z AND t.y = k.y AND t.x = k.x RETURNING t.z, t.y, t.x`,
		shelf, c.z, c.y, c.x, c.fetched, c.fresh, c.etag, c.modified, c.fixed, c.immutable, c.usable).
		Query(func(renewed pgx.Rows) error {
			var t tiles.ID
			_, err := pgx.ForEachRow(renewed, []any{&t.Z, &t.Y, &t.X}, func() error {
				found[t] = true
				return nil
			})
			return err
		})
	if err := tx.SendBatch(ctx, &b).Close(); err != nil {
		return err
	}
	for _, r := range rows {
		if !found[r.ID] {
			return store.Absent(s.where, r)
		}
	}
	return nil
}

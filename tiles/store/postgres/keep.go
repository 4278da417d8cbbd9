package postgres

import (
	"context"
	"maps"

	"github.com/jackc/pgx/v5"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// Keep implements [store.Writer]. However many tiles, it goes to the server and
// back four times (once more for every 16 MB of images), and images that are
// held already are not sent.
func (s *Shelf) Keep(ctx context.Context, recs []store.Held) (store.Kept, error) {
	rows, err := store.AllChecked(recs)
	if err != nil {
		return store.Kept{}, err
	}
	if len(rows) == 0 {
		return store.Kept{}, nil
	}
	var kept store.Kept
	err = s.write(ctx, func(ctx context.Context, tx pgx.Tx, shelf int32) error {
		held, err := lookUp(ctx, tx, shelf, rows)
		if err != nil {
			return err
		}
		d := held.compare(rows)
		kept = d.kept
		return d.apply(ctx, tx, shelf)
	})
	if err != nil {
		return store.Kept{}, err
	}
	return kept, nil
}

// hash is nil for a hole.
func hash(r store.Held) []byte {
	if r.Hole {
		return nil
	}
	return r.Hash[:]
}

// places are the coordinates of tiles, as three arrays.
func places(rows []store.Held) (z, y, x []int32) {
	for _, r := range rows {
		z, y, x = append(z, int32(r.Z)), append(y, int32(r.Y)), append(x, int32(r.X))
	}
	return z, y, x
}

// held is what the shelf has of a batch before it is written.
type held struct {
	tiles  map[tiles.ID][]byte // hash of the image; nil for a hole
	images map[string]bool     // hashes
}

func lookUp(ctx context.Context, tx pgx.Tx, shelf int32, rows []store.Held) (held, error) {
	var hashes [][]byte
	for _, r := range rows {
		if !r.Hole {
			hashes = append(hashes, r.Hash[:])
		}
	}
	z, y, x := places(rows)
	h := held{map[tiles.ID][]byte{}, map[string]bool{}}
	var b pgx.Batch
	b.Queue(oneWriter, shelf)
	b.Queue(`SELECT t.z, t.y, t.x, t.hash FROM unnest($2::int[], $3::int[], $4::int[]) AS k (z, y, x)
		JOIN groundsheet.tiles t ON t.shelf = $1 AND t.z = k.z AND t.y = k.y AND t.x = k.x`, shelf, z, y, x).
		Query(func(found pgx.Rows) error {
			var t tiles.ID
			var hash []byte
			_, err := pgx.ForEachRow(found, []any{&t.Z, &t.Y, &t.X, &hash}, func() error {
				h.tiles[t] = hash
				hash = nil // the next one must not fill the same bytes
				return nil
			})
			return err
		})
	b.Queue(`SELECT hash FROM groundsheet.images WHERE shelf = $1 AND hash = ANY ($2)`, shelf, hashes).
		Query(func(found pgx.Rows) error {
			var hash []byte
			_, err := pgx.ForEachRow(found, []any{&hash}, func() error {
				h.images[string(hash)] = true
				return nil
			})
			return err
		})
	return h, tx.SendBatch(ctx, &b).Close()
}

// difference is what a batch changes.
type difference struct {
	rows   []store.Held // one a tile: the last of those in the batch
	images []store.Held // whose images are not held, one an image
	left   [][]byte     // hashes of images that lost a tile
	kept   store.Kept
}

func (h held) compare(rows []store.Held) difference {
	var d difference
	now := maps.Clone(h.tiles)
	for _, r := range rows {
		old, image := now[r.ID], hash(r)
		d.kept.Count(old != nil, image != nil, string(old) == string(image))
		now[r.ID] = image
	}
	d.rows = lastOfEach(rows)
	for _, r := range d.rows {
		if old := h.tiles[r.ID]; old != nil && string(old) != string(hash(r)) {
			d.left = append(d.left, old)
		}
		if key := string(r.Hash[:]); !r.Hole && !h.images[key] {
			h.images[key] = true
			d.images = append(d.images, r)
		}
	}
	return d
}

// lastOfEach leaves one record a tile, the last: a statement may not meet a
// row twice.
func lastOfEach(rows []store.Held) []store.Held {
	var out []store.Held
	at := map[tiles.ID]int{}
	for _, r := range rows {
		if i, twice := at[r.ID]; twice {
			out[i] = r
			continue
		}
		at[r.ID] = len(out)
		out = append(out, r)
	}
	return out
}

// sentAtOnce bounds the images of one statement.
const sentAtOnce = 16 << 20

func (d difference) apply(ctx context.Context, tx pgx.Tx, shelf int32) error {
	for len(d.images) > sendable(d.images) {
		n := sendable(d.images)
		var b pgx.Batch
		queueImages(&b, shelf, d.images[:n])
		if err := tx.SendBatch(ctx, &b).Close(); err != nil {
			return err
		}
		d.images = d.images[n:]
	}
	var b pgx.Batch
	queueImages(&b, shelf, d.images)
	queueTiles(&b, shelf, d.rows)
	queueUnused(&b, shelf, d.left)
	return tx.SendBatch(ctx, &b).Close()
}

// sendable is how many of the images go into one statement.
func sendable(images []store.Held) int {
	sum := 0
	for i, r := range images {
		if sum += r.Bytes; sum > sentAtOnce && i > 0 {
			return i
		}
	}
	return len(images)
}

func queueImages(b *pgx.Batch, shelf int32, images []store.Held) {
	if len(images) == 0 {
		return
	}
	var hashes, data [][]byte
	for _, r := range images {
		hashes, data = append(hashes, r.Hash[:]), append(data, r.Data)
	}
	b.Queue(`INSERT INTO groundsheet.images (shelf, hash, bytes, data)
		SELECT $1, k.hash, octet_length(k.data), k.data FROM unnest($2::bytea[], $3::bytea[]) AS k (hash, data)`, shelf, hashes, data)
}

func queueTiles(b *pgx.Batch, shelf int32, rows []store.Held) {
	c := columnsOf(rows)
	b.Queue(`INSERT INTO groundsheet.tiles AS t (shelf, z, y, x, hash, bytes, media, source, `+marks+`)
		SELECT $1, k.* FROM unnest($2::int[], $3::int[], $4::int[], $5::bytea[], $6::int[], $7::text[], $8::text[],
			$9::bigint[], $10::bigint[], $11::bytea[], $12::bytea[], $13::boolean[], $14::boolean[], $15::bigint[]) AS k
		ON CONFLICT (shelf, z, y, x) DO UPDATE SET (hash, bytes, media, source, `+marks+`) =
			(excluded.hash, excluded.bytes, excluded.media, excluded.source, excluded.fetched, excluded.fresh_until, excluded.etag,
			excluded.last_modified, excluded.no_transform, excluded.immutable, excluded.usable_until)`,
		shelf, c.z, c.y, c.x, c.hash, c.bytes, c.media, c.source, c.fetched, c.fresh, c.etag, c.modified,
		c.fixed, c.immutable, c.usable)
}

// queueUnused drops those of the images that no tile uses.
func queueUnused(b *pgx.Batch, shelf int32, hashes [][]byte) {
	if len(hashes) == 0 {
		return
	}
	b.Queue(`DELETE FROM groundsheet.images i WHERE shelf = $1 AND hash = ANY ($2)
		AND NOT EXISTS (SELECT 1 FROM groundsheet.tiles t WHERE t.shelf = i.shelf AND t.hash = i.hash)`, shelf, hashes)
}

// marks are the columns that a confirmation renews.
const marks = `fetched, fresh_until, etag, last_modified, no_transform, immutable, usable_until`

// columns are records turned on their side: one array a column.
type columns struct {
	z, y, x, bytes         []int32
	hash, etag, modified   [][]byte
	media, source          []string
	fetched, fresh, usable []int64
	fixed, immutable       []bool
}

func columnsOf(rows []store.Held) columns {
	var c columns
	c.z, c.y, c.x = places(rows)
	for _, r := range rows {
		c.hash, c.bytes = append(c.hash, hash(r)), append(c.bytes, int32(r.Bytes))
		c.media, c.source = append(c.media, r.Media), append(c.source, r.Source)
		c.fetched, c.fresh, c.usable = append(c.fetched, store.Micros(r.Fetched)),
			append(c.fresh, store.Micros(r.FreshUntil)), append(c.usable, store.Micros(r.UsableUntil))
		c.etag, c.modified = append(c.etag, bytea(r.ETag)), append(c.modified, bytea(r.LastModified))
		c.fixed, c.immutable = append(c.fixed, r.Fixed), append(c.immutable, r.Immutable)
	}
	return c
}

// bytea is a text as bytes, never nil: that would be NULL.
func bytea(s string) []byte { return append([]byte{}, s...) }

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

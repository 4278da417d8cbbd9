package postgres

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"iter"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

const (
	rowColumns = `SELECT t.z, t.y, t.x, t.hash, t.bytes, t.media, t.source, t.fetched, t.fresh_until,
		t.etag, t.last_modified, t.no_transform, t.immutable, t.usable_until`
	selectSpan = rowColumns + ` FROM groundsheet.tiles t WHERE t.shelf = $1 AND t.z = $2 AND t.y = $3 AND t.x BETWEEN $4 AND $5 ORDER BY t.x`
	selectNext = rowColumns + ` FROM groundsheet.tiles t WHERE t.shelf = $1 AND (t.z, t.y, t.x) > ($2, $3, $4) ORDER BY t.z, t.y, t.x LIMIT $5`
	selectOne  = rowColumns + `, i.data FROM groundsheet.tiles t LEFT JOIN groundsheet.images i USING (shelf, hash)
		WHERE t.shelf = $1 AND t.z = $2 AND t.y = $3 AND t.x = $4`
	selectImages = `SELECT hash, data FROM groundsheet.images WHERE shelf = $1 AND hash = ANY ($2)`
)

// What is read in one go: memory stays bounded, and nothing is open while the
// caller works.
const (
	spansAtOnce = 256
	tilesAtOnce = 8192    // records, without images
	bytesAtOnce = 4 << 20 // of images, or one image
)

// In implements [store.Reader].
func (s *Shelf) In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		w := walker{s: s, data: data, prove: true, yield: yield}
		for spans := c.Spans(); len(spans) > 0; {
			var part []tiles.Span
			part, spans = portion(spans)
			recs, err := s.spans(ctx, c.Zoom(), part)
			if err != nil {
				yield(store.Held{}, err)
				return
			}
			if !w.hand(ctx, recs) {
				return
			}
		}
	}
}

// portion takes what is read in one go off the front of spans.
func portion(spans []tiles.Span) (part, rest []tiles.Span) {
	room := uint32(tilesAtOnce)
	for i, span := range spans {
		if i == spansAtOnce || room == 0 {
			return part, spans[i:]
		}
		if span.Last-span.First >= room {
			cut := span.First + room
			rest = append([]tiles.Span{{Row: span.Row, First: cut, Last: span.Last}}, spans[i+1:]...)
			return append(part, tiles.Span{Row: span.Row, First: span.First, Last: cut - 1}), rest
		}
		room -= span.Last - span.First + 1
		part = append(part, span)
	}
	return part, nil
}

// spans reads records without images, in tile order: one statement a span, all
// sent together, each a walk along the primary key.
func (s *Shelf) spans(ctx context.Context, zoom int, part []tiles.Span) (recs []store.Held, err error) {
	err = s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		var b pgx.Batch
		for _, span := range part {
			b.Queue(selectSpan, shelf, zoom, int32(span.Row), int32(span.First),
				int32(span.Last)).Query(func(rows pgx.Rows) error {
				recs, err = pgx.AppendRows(recs, rows, rowToHeld)
				return err
			})
		}
		return conn.SendBatch(ctx, &b).Close()
	})
	return recs, err
}

// All implements [store.Maintenance].
func (s *Shelf) All(ctx context.Context, data bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		w := walker{s: s, data: data, yield: yield}
		z, y, x := int32(-1), int32(0), int32(0)
		for {
			recs, err := s.after(ctx, z, y, x)
			if err != nil {
				yield(store.Held{}, err)
				return
			}
			if !w.hand(ctx, recs) || len(recs) < tilesAtOnce {
				return
			}
			last := recs[len(recs)-1]
			z, y, x = int32(last.Z), int32(last.Y), int32(last.X)
		}
	}
}

func (s *Shelf) after(ctx context.Context, z, y, x int32) (recs []store.Held, err error) {
	err = s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, selectNext, shelf, z, y, x, tilesAtOnce)
		if err != nil {
			return err
		}
		recs, err = pgx.CollectRows(rows, rowToHeld)
		return err
	})
	return recs, err
}

// Get implements [store.Reader].
func (s *Shelf) Get(ctx context.Context, t tiles.ID) (store.Held, bool, error) {
	if !t.Valid() {
		return store.Held{}, false, nil
	}
	r, held, err := s.one(ctx, t)
	if err == nil && held {
		err = s.proved(r)
	}
	if err != nil {
		return store.Held{}, false, err
	}
	return r, held, nil
}

// one reads a tile and its image at the same moment.
func (s *Shelf) one(ctx context.Context, t tiles.ID) (r store.Held, held bool, err error) {
	err = s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, selectOne, shelf, int32(t.Z), int32(t.Y), int32(t.X))
		if err != nil {
			return err
		}
		found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (store.Held, error) {
			var data []byte
			r, err := scan(row, &data)
			r.Data = data
			return r, err
		})
		if len(found) > 0 {
			r, held = found[0], true
		}
		return err
	})
	return r, held, err
}

// walker hands records to a caller.
type walker struct {
	s           *Shelf
	data, prove bool
	yield       func(store.Held, error) bool
}

// hand is false when the walk is over.
func (w walker) hand(ctx context.Context, recs []store.Held) bool {
	if !w.data {
		for _, r := range recs {
			if !w.yield(r, nil) {
				return false
			}
		}
		return true
	}
	for len(recs) > 0 {
		n := together(recs)
		if !w.withImages(ctx, recs[:n]) {
			return false
		}
		recs = recs[n:]
	}
	return true
}

func rowToHeld(row pgx.CollectableRow) (store.Held, error) { return scan(row) }

func scan(rows pgx.CollectableRow, image ...any) (store.Held, error) {
	var r store.Held
	var hash, etag, modified []byte
	var fetched, fresh, usable int64
	err := rows.Scan(append([]any{&r.Z, &r.Y, &r.X, &hash, &r.Bytes, &r.Media, &r.Source, &fetched, &fresh,
		&etag, &modified, &r.Fixed, &r.Immutable, &usable}, image...)...)
	r.Fetched, r.FreshUntil, r.UsableUntil = store.Moment(fetched), store.Moment(fresh), store.Moment(usable)
	r.ETag, r.LastModified = string(etag), string(modified)
	r.Hole = hash == nil
	copy(r.Hash[:], hash)
	return r, err
}

// together is how many of the records have their images read in one go.
func together(recs []store.Held) int {
	seen, sum := map[[32]byte]bool{}, 0
	for i, r := range recs {
		if !seen[r.Hash] {
			seen[r.Hash] = true
			sum += r.Bytes
		}
		if sum > bytesAtOnce && i > 0 {
			return i
		}
	}
	return len(recs)
}

func (w walker) withImages(ctx context.Context, recs []store.Held) bool {
	images, err := w.s.images(ctx, recs)
	if err != nil {
		w.yield(store.Held{}, err)
		return false
	}
	for _, r := range recs {
		held := true
		if r.Data = images.take(r.Hash); r.Data == nil && !r.Hole {
			// The tile was changed or dropped since its row was read.
			r, held, err = w.s.one(ctx, r.ID)
		}
		if err == nil && held && w.prove {
			err = w.s.proved(r)
		}
		if err != nil {
			w.yield(store.Held{}, err)
			return false
		}
		if held && !w.yield(r, nil) {
			return false
		}
	}
	return true
}

// images are read together, with how many records want each.
type images struct {
	data map[[32]byte][]byte
	uses map[[32]byte]int
}

func (s *Shelf) images(ctx context.Context, recs []store.Held) (images, error) {
	im := images{map[[32]byte][]byte{}, map[[32]byte]int{}}
	var hashes [][]byte
	for _, r := range recs {
		if im.uses[r.Hash]++; im.uses[r.Hash] == 1 && !r.Hole {
			hashes = append(hashes, bytes.Clone(r.Hash[:]))
		}
	}
	if len(hashes) == 0 {
		return im, nil
	}
	err := s.look(ctx, func(ctx context.Context, conn *pgxpool.Conn, shelf int32) error {
		rows, err := conn.Query(ctx, selectImages, shelf, hashes)
		if err != nil {
			return err
		}
		var hash, data []byte
		_, err = pgx.ForEachRow(rows, []any{&hash, &data}, func() error {
			im.data[[32]byte(hash)] = data
			data = nil // the next one must not fill the same bytes
			return nil
		})
		return err
	})
	return im, err
}

// take gives every record bytes of its own.
func (im images) take(hash [32]byte) []byte {
	data := im.data[hash]
	if im.uses[hash]--; im.uses[hash] == 0 {
		delete(im.data, hash)
		return data
	}
	return bytes.Clone(data)
}

// proved compares an image with its hash: a flipped bit is seen by nobody else
// before the field.
func (s *Shelf) proved(r store.Held) error {
	if r.Hole || sha256.Sum256(r.Data) == r.Hash {
		return nil
	}
	return store.Damage(s.where, fmt.Errorf("the image of tile %s does not match its SHA-256", r.ID))
}

package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"iter"
	"time"

	"groundsheet/tiles"
)

const (
	rowColumns = `SELECT t.x, t.hash, t.bytes, t.media, t.source, t.fetched, t.fresh_until, t.etag, t.last_modified, t.no_transform`
	rowWhere   = ` WHERE t.z = ? AND t.y = ? AND t.x BETWEEN ? AND ? ORDER BY t.x`
	selectRows = rowColumns + `, NULL FROM tiles t` + rowWhere
	selectAll  = rowColumns + `, i.data FROM tiles t LEFT JOIN images i ON i.id = t.image` + rowWhere
)

// In yields what is held of a cover in tile order, holes too; images only when
// data is true, each proved by its hash. After an error nothing follows.
func (s *Shelf) In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		if err := s.walk(ctx, c, data, func(r Record) bool { return yield(r, nil) }); err != nil {
			yield(Record{}, err)
		}
	}
}

// walk calls each until it returns false.
func (s *Shelf) walk(ctx context.Context, c tiles.Cover, data bool, each func(Record) bool) error {
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return err
	}
	query := selectRows
	if data {
		query = selectAll
	}
	stmt, err := db.PrepareContext(ctx, query)
	if err != nil {
		return s.fault("cannot read", err)
	}
	defer stmt.Close()
	for _, span := range c.Spans() {
		more, err := s.walkSpan(ctx, stmt, c.Zoom(), span, data, each)
		if err != nil || !more {
			return err
		}
	}
	return nil
}

func (s *Shelf) walkSpan(ctx context.Context, stmt *sql.Stmt, zoom int, span tiles.Span, data bool, each func(Record) bool) (more bool, err error) {
	rows, err := stmt.QueryContext(ctx, zoom, span.Row, span.First, span.Last)
	if err != nil {
		return false, s.fault("cannot read", err)
	}
	defer rows.Close()
	for rows.Next() {
		r, err := s.scan(rows, tiles.ID{Z: uint32(zoom), Y: span.Row}, data)
		if err != nil {
			return false, err
		}
		if !each(r) {
			return false, nil
		}
	}
	return true, s.fault("cannot read", rows.Err())
}

// scan reads one row; the column comes from the row itself.
func (s *Shelf) scan(rows *sql.Rows, id tiles.ID, data bool) (Record, error) {
	r := Record{Tile: tiles.Tile{ID: id}}
	var hash []byte
	var fetched, fresh int64
	if err := rows.Scan(&r.X, &hash, &r.Bytes, &r.Media, &r.Source, &fetched, &fresh, &r.ETag, &r.LastModified, &r.Fixed, &r.Data); err != nil {
		return Record{}, s.fault("cannot read", err)
	}
	r.Fetched, r.FreshUntil = time.UnixMicro(fetched).UTC(), time.UnixMicro(fresh).UTC()
	r.Hole = hash == nil
	copy(r.Hash[:], hash)
	// A flipped bit inside an image is seen by nobody else before the field.
	if data && !r.Hole && sha256.Sum256(r.Data) != r.Hash {
		return Record{}, &Damaged{s.path, fmt.Errorf("the image of tile %s does not match its SHA-256", r.ID)}
	}
	return r, nil
}

// Get is one tile with its image; false when it is not held.
func (s *Shelf) Get(ctx context.Context, t tiles.ID) (Record, bool, error) {
	if !t.Valid() {
		return Record{}, false, nil
	}
	one := tiles.NewCover(int(t.Z), []tiles.Span{{Row: t.Y, First: t.X, Last: t.X}})
	for r, err := range s.In(ctx, one, true) {
		return r, err == nil, err
	}
	return Record{}, false, nil
}

// Measured gives what is held of every zoom that holds something. It reads
// every row of the shelf, but no image.
func (s *Shelf) Measured(ctx context.Context) (map[int]Measure, error) {
	out := map[int]Measure{}
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return out, err
	}
	rows, err := db.QueryContext(ctx, `SELECT z, count(hash), count(*) - count(hash), total(bytes) FROM tiles GROUP BY z`)
	if err != nil {
		return nil, s.fault("cannot read", err)
	}
	defer rows.Close()
	for rows.Next() {
		var zoom int
		var m Measure
		var bytes float64
		if err := rows.Scan(&zoom, &m.Tiles, &m.Holes, &bytes); err != nil {
			return nil, s.fault("cannot read", err)
		}
		if m.Tiles > 0 {
			m.MeanBytes = bytes / float64(m.Tiles)
		}
		out[zoom] = m
	}
	return out, s.fault("cannot read", rows.Err())
}

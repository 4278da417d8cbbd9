package pack

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

// packedIn is one span of what a pack says of its tiles, in tile order.
const packedIn = `SELECT col, sha256, 0 FROM groundsheet_origin WHERE zoom=?1 AND row=?2 AND col BETWEEN ?3 AND ?4
 UNION ALL SELECT col, NULL, 1 FROM groundsheet_hole WHERE zoom=?1 AND row=?2 AND col BETWEEN ?3 AND ?4 ORDER BY 1`

// In yields what the pack says it holds of a cover, in tile order: images with
// the hash they had when they were packed, and holes. It implements
// [store.CoverReader], so a pack is compared with what is wanted as a store is.
// Images are read only when data is true, and not proved. Nothing is yielded of
// another program's file; a part that cannot be read is a [NotPack] fault.
func (p *Pack) In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		if !p.Info.Own || len(c.Spans()) == 0 {
			return
		}
		conn, err := p.db.Conn(ctx)
		if err != nil {
			yield(store.Held{}, err)
			return
		}
		defer conn.Close() //nolint:errcheck // it only goes back to the others
		stmt, err := conn.PrepareContext(ctx, packedIn)
		if err != nil {
			yield(store.Held{}, p.unreadable("what it holds", err))
			return
		}
		defer stmt.Close()
		for _, span := range c.Spans() {
			if !p.span(ctx, stmt, c.Zoom(), span, data, yield) {
				return
			}
		}
	}
}

// span yields one span; it is false when nothing may follow.
func (p *Pack) span(
	ctx context.Context, stmt *sql.Stmt, zoom int, span tiles.Span, data bool, yield func(store.Held, error) bool,
) bool {
	rows, err := stmt.QueryContext(ctx, zoom, span.Row, span.First, span.Last)
	if err == nil {
		defer rows.Close()
		for last := int64(-1); err == nil && rows.Next(); {
			h := store.Held{Tile: tiles.Tile{ID: tiles.ID{Z: uint32(zoom), Y: span.Row}}}
			var sum []byte
			if err = rows.Scan(&h.X, &sum, &h.Hole); err == nil && int64(h.X) == last {
				err = fmt.Errorf("tile %v is there twice", h.ID)
			}
			if err != nil {
				break
			}
			last = int64(h.X)
			copy(h.Hash[:], sum)
			if data && !h.Hole {
				if h.Data, err = p.Tile(ctx, h.ID); err != nil {
					yield(store.Held{}, err)
					return false
				}
				h.Bytes = len(h.Data)
			}
			if !yield(h, nil) {
				return false
			}
		}
	}
	if err == nil {
		err = rows.Err()
	}
	if ctx.Err() != nil {
		err = ctx.Err()
	} else if err != nil {
		err = p.unreadable("what it holds", err)
	}
	if err != nil {
		yield(store.Held{}, err)
	}
	return err == nil
}

// limitsTime is how long the limits of a pack may be looked for: a large file of
// another program may lack the index.
const limitsTime = 2 * time.Second

// Limits are the first and last column and row of each zoom that holds tiles,
// shallowest first. They are looked for once, when first asked for.
func (p *Pack) Limits() []tiles.Limit { return p.limits() }

// findLimits gives the first and last column and row of each zoom that holds
// tiles. Where the file cannot tell that in time, they are those of its bounds.
func (p *Pack) findLimits() []tiles.Limit {
	ctx, cancel := context.WithTimeout(context.Background(), limitsTime)
	defer cancel()
	var found []tiles.Limit
	for zoom := range p.Info.Zooms.All() {
		l, ok, err := p.limit(ctx, zoom)
		if err != nil {
			return p.boundsLimits()
		}
		if ok {
			found = append(found, l)
		}
	}
	return found
}

func (p *Pack) boundsLimits() (all []tiles.Limit) {
	for zoom := range p.Info.Zooms.All() {
		all = append(all, p.Info.Bounds.Limit(zoom))
	}
	return all
}

// limit goes from column to column by the index and looks at the two ends of
// each, so that its time grows with the columns and not with the tiles. What is
// no whole number, or no place of the zoom, does not count.
func (p *Pack) limit(ctx context.Context, zoom int) (l tiles.Limit, ok bool, err error) {
	const q = `WITH RECURSIVE
 col(x) AS (SELECT (SELECT min(tile_column) FROM tiles WHERE zoom_level=?1 AND tile_column>=0 AND tile_column<=?2)
  UNION ALL SELECT (SELECT min(tile_column) FROM tiles WHERE zoom_level=?1 AND tile_column>col.x AND tile_column<=?2) FROM col WHERE col.x IS NOT NULL),
 ends(x, low, high) AS (SELECT x,
  (SELECT min(tile_row) FROM tiles WHERE zoom_level=?1 AND tile_column=x AND tile_row>=0 AND tile_row<=?2),
  (SELECT max(tile_row) FROM tiles WHERE zoom_level=?1 AND tile_column=x AND tile_row>=0 AND tile_row<=?2) FROM col)
SELECT min(x), max(x), min(low), max(high) FROM ends WHERE low IS NOT NULL`
	var west, east, south, north sql.NullInt64
	last := int64(1)<<zoom - 1
	if err := p.db.QueryRowContext(ctx, q, zoom, last).Scan(&west, &east, &south, &north); err != nil || !west.Valid {
		return l, false, err
	}
	// tiles counts its rows from the south.
	return tiles.Limit{
		Zoom: zoom, MinCol: uint32(west.Int64), MaxCol: uint32(east.Int64),
		MinRow: uint32(last - north.Int64), MaxRow: uint32(last - south.Int64),
	}, true, nil
}

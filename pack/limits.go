package pack

import (
	"context"
	"database/sql"
	"time"

	"groundsheet/tiles"
)

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

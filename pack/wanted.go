package pack

import (
	"context"
	"errors"
	"iter"
	"maps"
	"slices"

	"groundsheet/tiles"
)

// MaxTiles keeps a slip of the zoom from becoming a week of fetching: ten
// million tiles are some 200 GB.
const MaxTiles = 10_000_000

// Quick reads the whole file with SQLite's quick_check and gives what is wrong
// with it, at most a few lines; nil when nothing is.
func (p *Pack) Quick(ctx context.Context) ([]string, error) {
	rows, err := p.db.QueryContext(ctx, `PRAGMA quick_check(5)`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return nil, err
		}
		if line != "ok" {
			all = append(all, line)
		}
	}
	return all, rows.Err()
}

// Wanted gives what the job wanted when the pack was written, shallow to deep.
// It is empty for other programs' files.
func (p *Pack) Wanted(ctx context.Context) ([]tiles.Cover, error) {
	if !p.Info.Own {
		return nil, nil
	}
	rows, err := p.db.QueryContext(ctx, `SELECT zoom, row, first, last FROM groundsheet_wanted ORDER BY zoom, row, first`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	byZoom := map[int][]tiles.Span{}
	var count uint64
	for rows.Next() {
		var zoom int
		var s tiles.Span
		if err := rows.Scan(&zoom, &s.Row, &s.First, &s.Last); err != nil {
			return nil, p.unreadable("what it wants", err)
		}
		if count += uint64(max(s.Last, s.First)-s.First) + 1; zoom < 0 || zoom > tiles.MaxZoom || count > MaxTiles {
			return nil, p.unreadable("what it wants", errors.New("more, or deeper, than any job"))
		}
		byZoom[zoom] = append(byZoom[zoom], s)
	}
	var covers []tiles.Cover
	for _, zoom := range slices.Sorted(maps.Keys(byZoom)) {
		covers = append(covers, tiles.NewCover(zoom, byZoom[zoom]))
	}
	if err := rows.Err(); err != nil {
		return nil, p.unreadable("what it wants", err)
	}
	return covers, nil
}

// Holes counts the named holes: wanted tiles that the source said it does not have.
func (p *Pack) Holes(ctx context.Context) (n int64, err error) {
	if !p.Info.Own {
		return 0, nil
	}
	if err := p.db.QueryRowContext(ctx, `SELECT count(*) FROM groundsheet_hole`).Scan(&n); err != nil && ctx.Err() == nil {
		return 0, p.unreadable("its holes", err)
	}
	return n, ctx.Err()
}

// Places walks the places of all tiles in the file, in the file's own order.
func (p *Pack) Places(ctx context.Context) iter.Seq2[tiles.ID, error] {
	return func(yield func(tiles.ID, error) bool) {
		rows, err := p.db.QueryContext(ctx, `SELECT zoom_level, tile_column, tile_row FROM tiles`)
		if err != nil {
			yield(tiles.ID{}, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			var z, x, row any // a column may hold anything in SQLite
			if err := rows.Scan(&z, &x, &row); err != nil {
				yield(tiles.ID{}, err)
				return
			}
			if !yield(place(whole(z), whole(x), whole(row)), nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(tiles.ID{}, err)
		}
	}
}

// whole gives -1 for what is no whole number.
func whole(v any) int64 {
	if n, ok := v.(int64); ok {
		return n
	}
	return -1
}

// place turns a stored row into an XYZ place; one that cannot exist becomes an
// invalid ID.
func place(z, x, row int64) tiles.ID {
	if z < 0 || z > tiles.MaxZoom || x < 0 || row < 0 || x >= 1<<z || row >= 1<<z {
		return tiles.ID{Z: tiles.MaxZoom + 1}
	}
	t := tiles.ID{Z: uint32(z), X: uint32(x), Y: uint32(row)}
	t.Y = t.TMSRow()
	return t
}

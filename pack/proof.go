package pack

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"

	"groundsheet/tiles"
)

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
	var covers []tiles.Cover
	var spans []tiles.Span
	at := -1
	for rows.Next() {
		var zoom int
		var s tiles.Span
		if err := rows.Scan(&zoom, &s.Row, &s.First, &s.Last); err != nil {
			return nil, err
		}
		if zoom < 0 || zoom > tiles.MaxZoom {
			return nil, &NotPack{p.Path, fmt.Sprintf("it wants tiles of zoom %d", zoom), "pack the job again"}
		}
		if zoom != at && at >= 0 {
			covers, spans = append(covers, tiles.NewCover(at, spans)), nil
		}
		at, spans = zoom, append(spans, s)
	}
	if at >= 0 {
		covers = append(covers, tiles.NewCover(at, spans))
	}
	return covers, rows.Err()
}

// Holes gives the wanted tiles that the source said it does not have.
func (p *Pack) Holes(ctx context.Context) (map[tiles.ID]bool, error) {
	holes := map[tiles.ID]bool{}
	if !p.Info.Own {
		return holes, nil
	}
	rows, err := p.db.QueryContext(ctx, `SELECT zoom, col, row FROM groundsheet_hole`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var t tiles.ID
		if err := rows.Scan(&t.Z, &t.X, &t.Y); err != nil {
			return nil, err
		}
		holes[t] = true
	}
	return holes, rows.Err()
}

// Hash gives the SHA-256 that the tile had when it was packed; ok is false
// when the pack does not say.
func (p *Pack) Hash(ctx context.Context, t tiles.ID) (sum [32]byte, ok bool, err error) {
	var b []byte
	err = p.db.QueryRowContext(ctx, `SELECT sha256 FROM groundsheet_origin WHERE zoom=? AND row=? AND col=?`, t.Z, t.Y, t.X).Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return sum, false, nil
	}
	return sum, err == nil && copy(sum[:], b) == len(sum), err
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
			var z, x, row int64
			if err := rows.Scan(&z, &x, &row); err != nil {
				yield(tiles.ID{}, err)
				return
			}
			if !yield(place(z, x, row), nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(tiles.ID{}, err)
		}
	}
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

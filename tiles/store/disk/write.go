package disk

import (
	"context"
	"database/sql"
	"errors"

	"groundsheet/tiles/store"
)

// Keep implements [store.Taker].
func (s *Shelf) Keep(ctx context.Context, recs []store.Record) (store.Kept, error) {
	rows := make([]store.Record, len(recs))
	for i, r := range recs {
		row, err := store.Checked(r)
		if err != nil {
			return store.Kept{}, err
		}
		rows[i] = row
	}
	if len(rows) == 0 {
		return store.Kept{}, nil
	}
	var kept store.Kept
	err := s.write(ctx, func(tx *sql.Tx) error {
		k, err := newKeeper(tx)
		if err != nil {
			return err
		}
		for _, r := range rows {
			if err := k.keep(r); err != nil {
				return err
			}
		}
		kept = k.kept
		return k.dropUnused()
	})
	if err != nil {
		return store.Kept{}, err
	}
	return kept, nil
}

// keeper holds the statements of one Keep.
type keeper struct {
	findImage, addImage, oldImage, put, drop *sql.Stmt
	left                                     map[int64]bool // images that lost a tile
	kept                                     store.Kept
}

func newKeeper(tx *sql.Tx) (*keeper, error) {
	k := &keeper{left: map[int64]bool{}}
	for _, p := range []struct {
		stmt **sql.Stmt
		text string
	}{
		{&k.findImage, `SELECT id FROM images WHERE hash = ?`},
		{&k.addImage, `INSERT INTO images (hash, data) VALUES (?, ?)`},
		{&k.oldImage, `SELECT image FROM tiles WHERE z = ? AND y = ? AND x = ?`},
		{&k.put, `INSERT OR REPLACE INTO tiles
			(z, y, x, image, hash, bytes, media, source, fetched, fresh_until, etag, last_modified, no_transform, immutable, usable_until)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`},
		{&k.drop, `DELETE FROM images WHERE id = ?1 AND NOT EXISTS (SELECT 1 FROM tiles WHERE image = ?1)`},
	} {
		stmt, err := tx.Prepare(p.text)
		if err != nil {
			return nil, err
		}
		*p.stmt = stmt
	}
	return k, nil
}

func (k *keeper) keep(r store.Record) error {
	var image sql.NullInt64
	var hash any
	if !r.Hole {
		id, err := k.image(r)
		if err != nil {
			return err
		}
		image, hash = sql.NullInt64{Int64: id, Valid: true}, r.Hash[:]
	}
	var old sql.NullInt64
	if err := k.oldImage.QueryRow(r.Z, r.Y, r.X).Scan(&old); err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if old.Valid && old != image {
		k.left[old.Int64] = true
	}
	k.count(old, image)
	_, err := k.put.Exec(r.Z, r.Y, r.X, image, hash, r.Bytes, r.Media, r.Source,
		micros(r.Fetched), micros(r.FreshUntil), r.ETag, r.LastModified, r.Fixed, r.Immutable, micros(r.UsableUntil))
	return err
}

// count notes what a tile had and has; an image that is not valid is a hole or
// nothing.
func (k *keeper) count(old, now sql.NullInt64) {
	switch {
	case !now.Valid:
		k.kept.Holes++
		if old.Valid {
			k.kept.Gone++
		}
	case !old.Valid:
		k.kept.New++
	case old == now:
		k.kept.Same++
	default:
		k.kept.Changed++
	}
}

// image finds the image by its hash or adds it.
func (k *keeper) image(r store.Record) (int64, error) {
	var id int64
	err := k.findImage.QueryRow(r.Hash[:]).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	res, err := k.addImage.Exec(r.Hash[:], r.Data)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

func (k *keeper) dropUnused() error {
	for id := range k.left {
		if _, err := k.drop.Exec(id); err != nil {
			return err
		}
	}
	return nil
}

// Renew implements [store.Taker].
func (s *Shelf) Renew(ctx context.Context, recs []store.Record) error {
	if len(recs) == 0 {
		return nil
	}
	if db, err := s.handle(ctx, false); err != nil {
		return err
	} else if db == nil {
		return &store.NotHeld{Path: s.path, Tile: recs[0].String()}
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		stmt, err := tx.Prepare(`UPDATE tiles SET fetched = ?, fresh_until = ?, etag = ?, last_modified = ?,
			no_transform = ?, immutable = ?, usable_until = ? WHERE z = ? AND y = ? AND x = ?`)
		if err != nil {
			return err
		}
		for _, r := range recs {
			res, err := stmt.Exec(micros(r.Fetched), micros(r.FreshUntil), r.ETag, r.LastModified,
				r.Fixed, r.Immutable, micros(r.UsableUntil), r.Z, r.Y, r.X)
			if err != nil {
				return err
			}
			if n, err := res.RowsAffected(); err != nil {
				return err
			} else if n == 0 {
				return &store.NotHeld{Path: s.path, Tile: r.String()}
			}
		}
		return nil
	})
}

package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
)

// Keep writes records in one transaction and returns when they are on the
// disk. A tile that is held already is replaced, an image that no tile uses
// any more is dropped. Hash and Bytes are worked out here. The context is
// looked at before the transaction, not within it. Errors: *[DiskFull],
// *[Damaged], *[Newer], or a plain one; then nothing of the batch is kept.
func (s *Shelf) Keep(ctx context.Context, recs []Record) error {
	rows := make([]Record, len(recs))
	for i, r := range recs {
		row, err := checked(r)
		if err != nil {
			return err
		}
		rows[i] = row
	}
	if len(rows) == 0 {
		return nil
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		k, err := newKeeper(tx)
		if err != nil {
			return err
		}
		for _, r := range rows {
			if err := k.keep(r); err != nil {
				return err
			}
		}
		return k.dropUnused()
	})
}

// checked refuses what cannot be a tile and fills Hash and Bytes.
func checked(r Record) (Record, error) {
	switch {
	case !r.Valid():
		return r, fmt.Errorf("cannot keep tile %s: there is no such tile", r.ID)
	case r.Hole && len(r.Data) > 0:
		return r, fmt.Errorf("cannot keep tile %s: a hole has no image", r.ID)
	case r.Hole:
		r.Hash, r.Bytes, r.Media = [32]byte{}, 0, ""
		return r, nil
	case len(r.Data) == 0:
		return r, fmt.Errorf("cannot keep tile %s: the image is empty", r.ID)
	}
	r.Hash, r.Bytes = sha256.Sum256(r.Data), len(r.Data)
	return r, nil
}

// write runs a transaction; it is rolled back when do fails.
func (s *Shelf) write(ctx context.Context, do func(*sql.Tx) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	db, err := s.handle(ctx, true)
	if err != nil {
		return err
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	// Half a batch helps nobody: once begun it is short and runs to its end.
	tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		return s.fault("cannot write", err)
	}
	if err := do(tx); err != nil {
		_ = tx.Rollback() // the first error is the one to tell
		return s.wrapWrite(err)
	}
	return s.wrapWrite(tx.Commit())
}

func (s *Shelf) wrapWrite(err error) error {
	var gone *NotHeld
	if errors.As(err, &gone) {
		return gone
	}
	return s.fault("cannot write", err)
}

// keeper holds the statements of one Keep.
type keeper struct {
	findImage, addImage, oldImage, put, drop *sql.Stmt
	left                                     map[int64]bool // images that lost a tile
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
			(z, y, x, image, hash, bytes, media, source, fetched, fresh_until, etag, last_modified, no_transform)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`},
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

func (k *keeper) keep(r Record) error {
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
	_, err := k.put.Exec(r.Z, r.Y, r.X, image, hash, r.Bytes, r.Media, r.Source,
		r.Fetched.UnixMicro(), r.FreshUntil.UnixMicro(), r.ETag, r.LastModified, r.Fixed)
	return err
}

// image finds the image by its hash or adds it.
func (k *keeper) image(r Record) (int64, error) {
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

// Renew marks held tiles as confirmed by the source: Fetched, FreshUntil and
// the validators are taken from the records, the images stay. It returns when
// that is on the disk. A tile that is not held is a *[NotHeld]; then nothing
// of the batch is written.
func (s *Shelf) Renew(ctx context.Context, recs []Record) error {
	if len(recs) == 0 {
		return nil
	}
	if db, err := s.handle(ctx, false); err != nil {
		return err
	} else if db == nil {
		return &NotHeld{s.path, recs[0].String()}
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		stmt, err := tx.Prepare(`UPDATE tiles SET fetched = ?, fresh_until = ?, etag = ?, last_modified = ?
			WHERE z = ? AND y = ? AND x = ?`)
		if err != nil {
			return err
		}
		for _, r := range recs {
			res, err := stmt.Exec(r.Fetched.UnixMicro(), r.FreshUntil.UnixMicro(), r.ETag, r.LastModified, r.Z, r.Y, r.X)
			if err != nil {
				return err
			}
			if n, err := res.RowsAffected(); err != nil {
				return err
			} else if n == 0 {
				return &NotHeld{s.path, r.String()}
			}
		}
		return nil
	})
}

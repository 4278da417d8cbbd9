package folder

import (
	"context"
	"database/sql"
	"slices"
	"strings"

	"groundsheet/tiles/store"
)

// Keep implements [store.Writer].
func (s *Shelf) Keep(ctx context.Context, recs []store.Held) (store.Kept, error) {
	rows, err := store.AllChecked(recs)
	if err != nil {
		return store.Kept{}, err
	}
	if len(rows) == 0 {
		return store.Kept{}, nil
	}
	var kept store.Kept
	err = s.write(ctx, func(tx *sql.Tx) error {
		k, err := newKeeper(tx)
		if err != nil {
			return err
		}
		if err := k.look(tx, rows); err != nil {
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

// keeper holds the statements of one Keep. A new tile, the usual case, takes
// two of them: addImage and add.
type keeper struct {
	addImage, add, oldImage, replace, drop *sql.Stmt
	images                                 map[[32]byte]int64 // those of this Keep that are held
	left                                   map[int64]bool     // images that lost a tile
	kept                                   store.Kept
}

const tileColumns = `tiles
	(z, y, x, image, hash, bytes, media, source, fetched, fresh_until, etag, last_modified, no_transform, immutable, usable_until)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

func newKeeper(tx *sql.Tx) (*keeper, error) {
	k := &keeper{images: map[[32]byte]int64{}, left: map[int64]bool{}}
	for _, p := range []struct {
		stmt **sql.Stmt
		text string
	}{
		{&k.addImage, `INSERT INTO images (hash, data) VALUES (?, ?)`},
		{&k.add, `INSERT INTO ` + tileColumns + ` ON CONFLICT DO NOTHING`},
		{&k.oldImage, `SELECT image FROM tiles WHERE z = ? AND y = ? AND x = ?`},
		{&k.replace, `INSERT OR REPLACE INTO ` + tileColumns},
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

func (k *keeper) keep(r store.Held) error {
	var image sql.NullInt64
	var hash any
	if !r.Hole {
		id, err := k.image(r)
		if err != nil {
			return err
		}
		image, hash = sql.NullInt64{Int64: id, Valid: true}, r.Hash[:]
	}
	row := []any{r.Z, r.Y, r.X, image, hash, r.Bytes, r.Media, r.Source,
		store.Micros(r.Fetched), store.Micros(r.FreshUntil), r.ETag, r.LastModified, r.Fixed, r.Immutable,
		store.Micros(r.UsableUntil)}
	var old sql.NullInt64
	if added, _, err := did(k.add, row...); err != nil {
		return err
	} else if !added {
		if err := k.oldImage.QueryRow(r.Z, r.Y, r.X).Scan(&old); err != nil {
			return err
		}
		if _, err := k.replace.Exec(row...); err != nil {
			return err
		}
	}
	if old.Valid && old != image {
		k.left[old.Int64] = true
	}
	k.kept.Count(old.Valid, image.Valid, old == image)
	return nil
}

// did runs an insertion and tells whether it took place, and the row's id.
func did(stmt *sql.Stmt, values ...any) (added bool, id int64, err error) {
	res, err := stmt.Exec(values...)
	if err != nil {
		return false, 0, err
	}
	n, err := res.RowsAffected()
	if err != nil || n == 0 {
		return false, 0, err
	}
	id, err = res.LastInsertId()
	return true, id, err
}

// image adds the image unless it is held.
func (k *keeper) image(r store.Held) (int64, error) {
	if id, held := k.images[r.Hash]; held {
		return id, nil
	}
	_, id, err := did(k.addImage, r.Hash[:], r.Data)
	if err == nil {
		k.images[r.Hash] = id
	}
	return id, err
}

// atOnce is how many images are looked for in one go.
const atOnce = 64

// look finds those of the images that are held: by the whole hash where a file
// has that index, else by its beginning.
func (k *keeper) look(tx *sql.Tx, recs []store.Held) error {
	marks := strings.TrimSuffix(strings.Repeat("?,", atOnce), ",")
	stmt, err := tx.Prepare(`SELECT id, hash FROM images WHERE hash IN (` + marks + `) AND substr(hash, 1, 8) IN (` +
		marks + `)`)
	if err != nil {
		return err
	}
	for part := range slices.Chunk(recs, atOnce) {
		if err := k.find(stmt, part); err != nil {
			return err
		}
	}
	return nil
}

// find looks for at most atOnce images; the places left over in the statement
// ask for the last one again.
func (k *keeper) find(stmt *sql.Stmt, recs []store.Held) error {
	asked := make([]any, 2*atOnce)
	for i := range atOnce {
		hash := recs[min(i, len(recs)-1)].Hash[:]
		asked[i], asked[atOnce+i] = hash, hash[:8]
	}
	rows, err := stmt.Query(asked...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var hash sql.RawBytes
		if err := rows.Scan(&id, &hash); err != nil {
			return err
		}
		if len(hash) == 32 {
			k.images[[32]byte(hash)] = id
		}
	}
	return rows.Err()
}

func (k *keeper) dropUnused() error {
	for id := range k.left {
		if _, err := k.drop.Exec(id); err != nil {
			return err
		}
	}
	return nil
}

// Renew implements [store.Writer].
func (s *Shelf) Renew(ctx context.Context, recs []store.Held) error {
	if len(recs) == 0 {
		return nil
	}
	if db, err := s.handle(ctx, false); err != nil {
		return err
	} else if db == nil {
		return store.Absent(s.path, recs[0])
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		stmt, err := tx.Prepare(`UPDATE tiles SET fetched = ?, fresh_until = ?, etag = ?, last_modified = ?,
			no_transform = ?, immutable = ?, usable_until = ? WHERE z = ? AND y = ? AND x = ?`)
		if err != nil {
			return err
		}
		for _, r := range recs {
			res, err := stmt.Exec(store.Micros(r.Fetched), store.Micros(r.FreshUntil), r.ETag, r.LastModified,
				r.Fixed, r.Immutable, store.Micros(r.UsableUntil), r.Z, r.Y, r.X)
			if err != nil {
				return err
			}
			if n, err := res.RowsAffected(); err != nil {
				return err
			} else if n == 0 {
				return store.Absent(s.path, r)
			}
		}
		return nil
	})
}

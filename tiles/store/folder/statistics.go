package folder

import (
	"context"
	"database/sql"
	"os"

	"groundsheet/tiles"
	"groundsheet/tiles/store"
)

const (
	mostRepeats = 1000 // images that Repeated lists
	somePlaces  = 64   // places it names for one
)

// Measured implements [store.Reader]. It reads every row of the shelf, but no
// image.
func (s *Shelf) Measured(ctx context.Context) (map[int]store.Measure, error) {
	out := map[int]store.Measure{}
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
		var m store.Measure
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

// Repeated implements [store.Reader].
func (s *Shelf) Repeated(ctx context.Context, places int) ([]store.Repeat, error) {
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return nil, err
	}
	images, repeats, err := s.mostRepeated(ctx, db, places)
	if err != nil {
		return nil, err
	}
	for i, image := range images {
		if repeats[i].Some, err = s.places(ctx, db, image, repeats[i].Places); err != nil {
			return nil, err
		}
	}
	return repeats, nil
}

func (s *Shelf) mostRepeated(ctx context.Context, db *sql.DB, places int) (images []int64, repeats []store.Repeat, err error) {
	rows, err := db.QueryContext(ctx, `SELECT r.image, i.hash, r.n FROM
		(SELECT image, count(*) AS n FROM tiles WHERE image IS NOT NULL GROUP BY image HAVING n >= ? ORDER BY n DESC, image LIMIT ?) r
		JOIN images i ON i.id = r.image ORDER BY r.n DESC, r.image`, max(places, 2), mostRepeats)
	if err != nil {
		return nil, nil, s.fault("cannot read", err)
	}
	defer rows.Close()
	for rows.Next() {
		var image int64
		var hash []byte
		var r store.Repeat
		if err := rows.Scan(&image, &hash, &r.Places); err != nil {
			return nil, nil, s.fault("cannot read", err)
		}
		copy(r.Hash[:], hash)
		images, repeats = append(images, image), append(repeats, r)
	}
	return images, repeats, s.fault("cannot read", rows.Err())
}

// places are some of those where an image stands, evenly spread in tile order.
func (s *Shelf) places(ctx context.Context, db *sql.DB, image int64, all int) ([]tiles.ID, error) {
	each := (all + somePlaces - 1) / somePlaces
	rows, err := db.QueryContext(ctx, `SELECT z, y, x FROM
		(SELECT z, y, x, row_number() OVER (ORDER BY z, y, x) AS n FROM tiles WHERE image = ?) WHERE (n - 1) % ? = 0`, image, each)
	if err != nil {
		return nil, s.fault("cannot read", err)
	}
	defer rows.Close()
	var out []tiles.ID
	for rows.Next() {
		var t tiles.ID
		if err := rows.Scan(&t.Z, &t.Y, &t.X); err != nil {
			return nil, s.fault("cannot read", err)
		}
		out = append(out, t)
	}
	return out, s.fault("cannot read", rows.Err())
}

// Size implements [store.Maintenance]. Bytes is the length of the shelf's file.
func (s *Shelf) Size(ctx context.Context) (store.Size, error) {
	db, err := s.handle(ctx, false)
	if err != nil || db == nil {
		return store.Size{}, err
	}
	var z store.Size
	var oldest, newest sql.NullInt64
	err = db.QueryRowContext(ctx, `SELECT count(hash), count(*) - count(hash), min(fetched), max(fetched),
		(SELECT count(*) FROM images) FROM tiles`).Scan(&z.Tiles, &z.Holes, &oldest, &newest, &z.Images)
	if err != nil {
		return store.Size{}, s.fault("cannot read", err)
	}
	if oldest.Valid {
		z.Oldest, z.Newest = store.Moment(oldest.Int64), store.Moment(newest.Int64)
	}
	if info, err := os.Stat(s.path); err == nil {
		z.Bytes = info.Size()
	}
	return z, nil
}

package fieldbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/raster"
)

// Limits of photos. The project's own choice, no source.
const (
	MaxPhoto    = 4 << 20        // bytes of one, as the phone shrank it
	MaxPiece    = 256 << 10      // bytes of one piece
	MaxSide     = raster.MaxSide // width and height of one, in pixels
	mostPending = 100            // photos that were begun and have not all come
)

// photoTypes are the media types that a photo may have.
var photoTypes = map[string]bool{raster.JPG.MediaType(): true, raster.PNG.MediaType(): true}

// BadPhoto is the kind of fault of a photo or piece that can never become part of the book.
var BadPhoto = fault.Input("bad photo")

func badPhoto(format string, args ...any) error {
	return &fault.Fault{Kind: BadPhoto, Detail: fmt.Sprintf(format, args...)}
}

// Stored is how much of a photo is in the book.
type Stored struct {
	Have int64 `json:"have"` // bytes from its beginning on
	Done bool  `json:"done"` // all of it came, and it is what its name says
}

// Piece is a part of a photo.
type Piece struct {
	Hash string // SHA-256 of the whole photo, 64 lower-case hex digits
	Type string // image/jpeg or image/png
	Of   int64  // bytes of the whole
	At   int64  // where the piece begins
	Data []byte
}

func (p Piece) check() error {
	switch {
	case !hexHash.MatchString(p.Hash):
		return badPhoto("a photo is named by its SHA-256, 64 lower-case hex digits")
	case !photoTypes[p.Type]:
		return badPhoto("a photo is image/jpeg or image/png")
	case p.Of < 1 || p.Of > MaxPhoto:
		return badPhoto("a photo has 1 to %d bytes", MaxPhoto)
	case len(p.Data) == 0 || len(p.Data) > MaxPiece:
		return badPhoto("a piece of a photo has 1 to %d bytes", MaxPiece)
	case p.At < 0 || p.At+int64(len(p.Data)) > p.Of:
		return badPhoto("the piece does not lie in the photo")
	}
	return nil
}

// Have says how much of a photo is in the book.
func (b *Book) Have(ctx context.Context, hash string) (Stored, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return Stored{}, nil
	}
	s, _, err := have(ctx, b.db, hash)
	return s, b.explain(err)
}

type rower interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

func have(ctx context.Context, db rower, hash string) (s Stored, of int64, err error) {
	err = db.QueryRowContext(ctx, `SELECT bytes, proved IS NOT NULL, (SELECT coalesce(sum(length(data)), 0) FROM piece WHERE hash = ?1)
		FROM photo WHERE hash = ?1`, hash).Scan(&of, &s.Done, &s.Have)
	if errors.Is(err, sql.ErrNoRows) {
		return Stored{}, 0, nil
	}
	return s, of, err
}

// AddPiece adds a piece of a photo, on the disk when it returns. Pieces come in their
// order: one that begins later than what the book has changes nothing, and the answer
// says where to go on; what is there already is passed over. The last piece proves the
// photo, or takes all of it away again: then the error is of kind [BadPhoto].
func (b *Book) AddPiece(ctx context.Context, p Piece) (s Stored, err error) {
	if err := p.check(); err != nil {
		return s, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.ensure(ctx); err != nil {
		return s, err
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return s, b.explain(err)
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	s, of, err := have(ctx, tx, p.Hash)
	switch {
	case err != nil:
		return s, b.explain(err)
	case s.Done || p.At > s.Have || p.At+int64(len(p.Data)) <= s.Have:
		return s, nil
	case of != 0 && of != p.Of:
		return s, badPhoto("the photo was begun with %d bytes, not %d", of, p.Of)
	}
	p.Data = p.Data[s.Have-p.At:]
	if err := b.addPiece(ctx, tx, p, &s); err != nil {
		if !errors.Is(err, BadPhoto) {
			return s, b.explain(err)
		}
		if failed := forget(ctx, tx, p.Hash); failed != nil {
			return s, b.explain(failed)
		}
		return Stored{}, errors.Join(err, b.explain(tx.Commit()))
	}
	return s, b.explain(tx.Commit())
}

func (b *Book) addPiece(ctx context.Context, tx *sql.Tx, p Piece, s *Stored) error {
	if s.Have == 0 {
		if err := begin(ctx, tx, p); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, `INSERT INTO piece VALUES(?,?,?)`, p.Hash, s.Have, p.Data); err != nil {
		return err
	}
	s.Have += int64(len(p.Data))
	if s.Have < p.Of {
		return nil
	}
	data, err := photo(ctx, tx, p.Hash)
	if err != nil {
		return err
	}
	if err := provePhoto(data, p.Hash, p.Type); err != nil {
		return err
	}
	if _, err := raster.Decode(data); err != nil {
		return &fault.Fault{Kind: BadPhoto, Detail: "the photo cannot be used", Err: err}
	}
	s.Done = true
	_, err = tx.ExecContext(ctx, `UPDATE photo SET proved = ? WHERE hash = ?`, stamp(b.o.Now()), p.Hash)
	return err
}

// begin begins a photo. When too many have not all come, the one that was begun first
// begins anew: a phone goes on from what the book has.
func begin(ctx context.Context, tx *sql.Tx, p Piece) error {
	var oldest string
	err := tx.QueryRowContext(ctx, `SELECT hash FROM photo WHERE proved IS NULL ORDER BY rowid DESC LIMIT 1 OFFSET ?`, mostPending-1).Scan(&oldest)
	switch {
	case err == nil:
		if err := forget(ctx, tx, oldest); err != nil {
			return err
		}
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO photo VALUES(?,?,?,NULL) ON CONFLICT DO UPDATE SET type = excluded.type, bytes = excluded.bytes`,
		p.Hash, p.Type, p.Of)
	return err
}

// forget takes away a photo that was not proved.
func forget(ctx context.Context, tx *sql.Tx, hash string) error {
	for _, query := range []string{`DELETE FROM piece WHERE hash = ?`, `DELETE FROM photo WHERE hash = ?`} {
		if _, err := tx.ExecContext(ctx, query, hash); err != nil {
			return err
		}
	}
	return nil
}

// provePhoto proves that bytes are a whole picture of a type, under their hash.
func provePhoto(data []byte, hash, media string) error {
	if hashOf(data) != hash {
		return badPhoto("the photo is not what its name says: send it again")
	}
	p, err := raster.Prove(data, 0)
	switch {
	case err != nil:
		return &fault.Fault{Kind: BadPhoto, Detail: "the photo cannot be used", Err: err}
	case p.Kind.MediaType() != media:
		return badPhoto("the photo is %s, not %s", p.Kind.MediaType(), media)
	case p.Width > MaxSide || p.Height > MaxSide:
		return badPhoto("the photo has %d×%d pixels; at most %d×%d are taken", p.Width, p.Height, MaxSide, MaxSide)
	}
	return nil
}

// photo puts the pieces of a photo together.
func photo(ctx context.Context, db querier, hash string) ([]byte, error) {
	rows, err := db.QueryContext(ctx, `SELECT data FROM piece WHERE hash = ? ORDER BY at`, hash)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []byte
	for rows.Next() {
		var data sql.RawBytes
		if err := rows.Scan(&data); err != nil {
			return nil, err
		}
		if all = append(all, data...); len(all) > MaxPhoto {
			return nil, badPhoto("the photo has more than %d bytes", MaxPhoto)
		}
	}
	return all, rows.Err()
}

// Photo gives a whole photo and its media type; nil where the book has not all of it. It
// is proved again: the book may come from anywhere.
func (b *Book) Photo(ctx context.Context, hash string) (data []byte, media string, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.db == nil {
		return nil, "", nil
	}
	err = b.db.QueryRowContext(ctx, `SELECT type FROM photo WHERE hash = ? AND proved IS NOT NULL`, hash).Scan(&media)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, "", nil
	}
	if err == nil {
		data, err = photo(ctx, b.db, hash)
	}
	if err != nil {
		return nil, "", b.explain(err)
	}
	return data, media, provePhoto(data, hash, media)
}

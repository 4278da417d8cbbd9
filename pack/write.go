package pack

import (
	"context"
	"crypto/sha256"
	"database/sql"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"time"

	"groundsheet/pack/overlay"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

//go:embed schema.sql
var schema string

// Content is all that goes into a pack.
type Content struct {
	About    About // Tiles, Holes, Fetched and Packed are filled in while writing
	Terms    *source.Terms
	Bounds   tiles.Box // an area that every zoom covers
	Covers   []tiles.Cover
	Area     []byte // GeoJSON: the dig area and its margin
	Overlays []overlay.Overlay
	Quality  int // JPEG quality to bring all tiles to, 1 to 100; 0 = as the source sent them

	// Tiles walks what is held of a cover in tile order; image bytes only when
	// data is set.
	Tiles func(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Record, error]
}

// WriteOptions are the ways of writing. The zero value is fine.
type WriteOptions struct {
	Now      func() time.Time        // nil = time.Now
	Progress func(done, total int64) // nil = silent; called now and then
}

// Written is what a pack holds once it is written.
type Written struct {
	File    string
	Tiles   int64
	Holes   int64
	Bytes   int64 // of the file
	Shared  bool  // repeated images are kept once
	Recoded int64 // tiles brought to the pack's one format
}

// NoRoom is a disk without room for the pack.
type NoRoom struct {
	Path string
	Err  error
}

func (e *NoRoom) Error() string {
	return fmt.Sprintf("%s: the disk is full (%v): make room, or put the job folder on a larger disk, and run pack again", e.Path, e.Err)
}

func (e *NoRoom) Unwrap() error { return e.Err }

// NotWritten is a pack that could not be written for another reason of the
// disk or the system.
type NotWritten struct {
	Path string
	Err  error
}

func (e *NotWritten) Error() string {
	return fmt.Sprintf("%s could not be written (%v): look at the disk and the folder's permissions, and run pack again", e.Path, e.Err)
}

func (e *NotWritten) Unwrap() error { return e.Err }

// Write writes a pack beside its final name, syncs it and renames it, so that
// a file under the final name is always complete. A pack that was there before
// stays until then. A tile that is wanted and neither held nor a known hole is
// an error: a pack never lies.
func Write(ctx context.Context, path string, c Content, o WriteOptions) (Written, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return Written{}, wrapWrite(ctx, path, err)
	}
	removeLeftovers(path)
	s, err := survey(ctx, c)
	if err != nil {
		return Written{}, err
	}
	part := partName(path)
	w, err := writeFile(ctx, part, c, s, o)
	if err == nil {
		err = finish(part, path)
	}
	if err != nil {
		_ = os.Remove(part) // the first error is the one to tell
		return Written{}, wrapWrite(ctx, path, err)
	}
	w.File = path
	info, err := os.Stat(path)
	if err != nil {
		return Written{}, err
	}
	w.Bytes = info.Size()
	return w, nil
}

// wrapWrite tells a failing disk from a failing store or a stopped run.
func wrapWrite(ctx context.Context, path string, err error) error {
	var held *heldError
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &held):
		return held.err
	case sqlite.Sort(err) == sqlite.NoRoom:
		return &NoRoom{path, err}
	case sqlite.Sort(err) == sqlite.TooLong:
		return &BadJob{path, "an overlay or a tile is larger than 64 MB", "split the overlay into several files"}
	}
	return &NotWritten{path, err}
}

// heldError is an error of what is to be written, not of the file.
type heldError struct{ err error }

func (e *heldError) Error() string { return e.err.Error() }
func (e *heldError) Unwrap() error { return e.err }

func writeFile(ctx context.Context, part string, c Content, s surveyed, o WriteOptions) (w Written, err error) {
	db := openWrite(part)
	defer func() {
		if closeErr := db.Close(); err == nil {
			err = closeErr
		}
	}()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return Written{}, err
	}
	defer tx.Rollback() //nolint:errcheck // after Commit it has nothing to do
	p := &pass{tx: tx, survey: s, quality: c.Quality, opts: o, about: c.About}
	if err := p.run(ctx, c); err != nil {
		return Written{}, err
	}
	return p.written, tx.Commit()
}

// pass is one writing pass over an open, empty file.
type pass struct {
	tx      *sql.Tx
	survey  surveyed
	quality int
	opts    WriteOptions
	about   About
	written Written
	image   map[[32]byte]int64 // image_id by hash, when images are shared
	put     statements
}

type statements struct{ tile, image, ref, origin, hole *sql.Stmt }

func (p *pass) run(ctx context.Context, c Content) error {
	steps := []func(context.Context, Content) error{p.tables, p.wanted, p.tiles, p.indexes, p.overlays, p.metadata, p.documents}
	for _, step := range steps {
		if err := step(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

func (p *pass) tables(ctx context.Context, _ Content) error {
	tables := `CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)`
	if p.survey.share {
		p.written.Shared = true
		p.image = map[[32]byte]int64{}
		tables = `CREATE TABLE groundsheet_image (image_id integer PRIMARY KEY, tile_data blob);
		 CREATE TABLE groundsheet_place (zoom_level integer, tile_column integer, tile_row integer, image_id integer);
		 CREATE VIEW tiles AS SELECT zoom_level, tile_column, tile_row, tile_data FROM groundsheet_place JOIN groundsheet_image USING (image_id)`
	}
	if _, err := p.tx.ExecContext(ctx, schema+tables); err != nil {
		return err
	}
	return p.prepare(ctx)
}

func (p *pass) prepare(ctx context.Context) (err error) {
	add := func(into **sql.Stmt, query string) {
		if err == nil {
			*into, err = p.tx.PrepareContext(ctx, query)
		}
	}
	add(&p.put.origin, `INSERT INTO groundsheet_origin VALUES (?,?,?,?,?,?,?,?)`)
	add(&p.put.hole, `INSERT INTO groundsheet_hole VALUES (?,?,?,?)`)
	if p.survey.share {
		add(&p.put.image, `INSERT INTO groundsheet_image VALUES (?,?)`)
		add(&p.put.ref, `INSERT INTO groundsheet_place VALUES (?,?,?,?)`)
	} else {
		add(&p.put.tile, `INSERT INTO tiles VALUES (?,?,?,?)`)
	}
	return err
}

func (p *pass) wanted(ctx context.Context, c Content) error {
	stmt, err := p.tx.PrepareContext(ctx, `INSERT INTO groundsheet_wanted VALUES (?,?,?,?)`)
	if err != nil {
		return err
	}
	for _, cover := range c.Covers {
		for _, s := range cover.Spans() {
			if _, err := stmt.ExecContext(ctx, cover.Zoom(), s.Row, s.First, s.Last); err != nil {
				return err
			}
		}
	}
	return stmt.Close()
}

func (p *pass) tiles(ctx context.Context, c Content) error {
	var done int64
	for _, cover := range c.Covers {
		err := eachWanted(cover, c.Tiles(ctx, cover, true), func(r store.Record) error {
			if done++; p.opts.Progress != nil && (done%64 == 0 || done == p.survey.records) {
				p.opts.Progress(done, p.survey.records)
			}
			return p.one(ctx, r)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (p *pass) one(ctx context.Context, r store.Record) error {
	p.age(r.Fetched)
	if r.Hole {
		p.written.Holes++
		_, err := p.put.hole.ExecContext(ctx, r.Z, r.Y, r.X, stamp(r.Fetched))
		return err
	}
	data, recoded, err := p.recode(r)
	if err != nil {
		return &heldError{fmt.Errorf("tile %v: %w", r.ID, err)}
	}
	p.written.Tiles++
	sum := sha256.Sum256(data)
	if _, err := p.put.origin.ExecContext(ctx, r.Z, r.Y, r.X, stamp(r.Fetched), r.ETag, r.LastModified, sum[:], recoded); err != nil {
		return err
	}
	if !p.survey.share {
		_, err := p.put.tile.ExecContext(ctx, r.Z, r.X, r.TMSRow(), data)
		return err
	}
	id, known := p.image[sum]
	if !known {
		id = int64(len(p.image) + 1)
		p.image[sum] = id
		if _, err := p.put.image.ExecContext(ctx, id, data); err != nil {
			return err
		}
	}
	_, err = p.put.ref.ExecContext(ctx, r.Z, r.X, r.TMSRow(), id)
	return err
}

// recode brings a tile to the pack's one format (MBTiles 1.3 declares one);
// bytes that have it already stay as the source sent them.
func (p *pass) recode(r store.Record) ([]byte, bool, error) {
	if raster.Kind(r.Media) == p.survey.format && p.quality == 0 {
		return r.Data, false, nil
	}
	img, err := raster.Decode(r.Data)
	if err != nil {
		return nil, false, err
	}
	var data []byte
	if p.quality > 0 {
		data, err = raster.EncodeJPEG(img, p.quality)
	} else {
		data, err = raster.Encode(img, p.survey.format)
	}
	p.written.Recoded++
	return data, true, err
}

func (p *pass) age(t time.Time) {
	if t.IsZero() {
		return
	}
	f := p.about.Fetched
	if f == nil {
		p.about.Fetched = &Fetched{t.UTC(), t.UTC()}
		return
	}
	if t.Before(f.Oldest) {
		f.Oldest = t.UTC()
	}
	if t.After(f.Newest) {
		f.Newest = t.UTC()
	}
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// indexes are made last: sorting once is faster than keeping order.
func (p *pass) indexes(ctx context.Context, _ Content) error {
	table := "tiles"
	if p.survey.share {
		table = "groundsheet_place"
	}
	_, err := p.tx.ExecContext(ctx, `CREATE UNIQUE INDEX tile_place ON `+table+` (zoom_level, tile_column, tile_row);
	 CREATE INDEX wanted_place ON groundsheet_wanted (zoom, row, first)`)
	return err
}

func (p *pass) overlays(ctx context.Context, c Content) error {
	for i, o := range c.Overlays {
		summary, err := json.Marshal(summarize(o, c.Bounds))
		if err != nil {
			return err
		}
		features, err := featuresText(o)
		if err != nil {
			return err
		}
		p.seal("overlay "+o.ID, features)
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO groundsheet_overlay VALUES (?,?,?,?)`, i, o.ID, string(summary), features); err != nil {
			return err
		}
	}
	return nil
}

func (p *pass) documents(ctx context.Context, c Content) error {
	p.about.Tiles, p.about.Holes, p.about.Packed = p.written.Tiles, p.written.Holes, p.now()
	p.seal("area", string(c.Area))
	about, err := json.Marshal(p.about)
	if err != nil {
		return err
	}
	terms, err := json.Marshal(c.Terms)
	if err != nil {
		return err
	}
	for key, body := range map[string]string{"about": string(about), "area": string(c.Area), "terms": string(terms)} {
		if _, err := p.tx.ExecContext(ctx, `INSERT INTO groundsheet_document VALUES (?,?)`, key, body); err != nil {
			return err
		}
	}
	return nil
}

// seal notes the hash of a part, so that check can tell when it was changed.
func (p *pass) seal(part, body string) {
	if p.about.Seals == nil {
		p.about.Seals = map[string]string{}
	}
	p.about.Seals[part] = Seal([]byte(body))
}

// Seal is the SHA-256 of a part of a pack, in hex.
func Seal(body []byte) string { return fmt.Sprintf("%x", sha256.Sum256(body)) }

func (p *pass) now() time.Time {
	if p.opts.Now != nil {
		return p.opts.Now().UTC()
	}
	return time.Now().UTC()
}

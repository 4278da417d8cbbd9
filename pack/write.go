package pack

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"time"

	"groundsheet/pack/record/derive"
	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// Content is all that goes into a pack.
type Content struct {
	About    About // Tiles, Holes, Fetched and Packed are filled in while writing
	Terms    *source.Terms
	Bounds   tiles.Box // an area that every zoom covers
	Covers   []tiles.Cover
	Area     []byte // as [Ground.GeoJSON] gives it
	Overlays []PackedOverlay
	Derived  *derive.Result // what was derived from the overlays; nil = nothing
	Quality  int            // JPEG quality to bring all tiles to, 1 to 100; 0 = as the source sent them

	// Placeholder tells the images that the operator named as no imagery; they
	// become holes. nil = none.
	Placeholder func(hash [32]byte) bool
	Suspects    []Suspect // images that are most likely no imagery; they are packed and named

	// Tiles is the shelf of the office store. Reading proves images by their hash, so
	// they are not hashed again; each is decoded, and left out if that fails.
	Tiles store.CoverReader

	parts derive.Encoded // Derived as it is written
}

// WriteOptions are the ways of writing. The zero value is fine.
type WriteOptions struct {
	Now      func() time.Time        // nil = time.Now
	Progress func(done, total int64) // nil = silent; called now and then
	Sign     ed25519.PrivateKey      // nil = not signed
	Force    bool                    // write the file even if the one there has the same content
}

// Written is what a pack holds once it is written.
type Written struct {
	File      string
	Tiles     int64
	Holes     int64
	Bytes     int64 // of the file
	Shared    bool  // repeated images are kept once
	Recoded   int64 // tiles brought to the pack's one format in this run
	Rewritten bool  // false = the file there has the same content and was left as it is
}

// NotWritten is the kind of fault of a disk that is full or of a file system that
// fails.
var NotWritten = fault.Outside("not written")

func notWritten(path string, err error) error {
	if sqlite.Sort(err) == sqlite.NoRoom {
		return &fault.Fault{
			Kind: NotWritten, Place: path, Detail: "the disk is full", Err: err,
			Remedy: "make room, or put the job folder on a larger disk, and run pack again",
		}
	}
	return &fault.Fault{
		Kind: NotWritten, Place: path, Detail: "could not be written", Err: err,
		Remedy: "look at the disk and the folder's permissions, and run pack again",
	}
}

// Write writes a pack beside its final name, syncs it and renames it, so that
// a file under the final name is always complete. A pack that was there before
// stays until then. A tile that is wanted and neither held nor a known hole is
// an error: a pack never lies.
//
// An existing pack with the same content is left as it is, unless Force is set: no
// image is read. Its times (packed, fetched, confirmed) then stay what they were;
// they are never newer than the truth.
func Write(ctx context.Context, path string, c Content, o WriteOptions) (Written, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return Written{}, wrapWrite(ctx, path, err)
	}
	removeLeftovers(path)
	if c.Derived != nil {
		var err error
		if c.parts, err = c.Derived.Encode(); err != nil {
			return Written{}, err
		}
	}
	t, err := scanStore(ctx, c)
	if err != nil {
		return Written{}, err
	}
	if !o.Force {
		w, same, err := unchanged(ctx, path, t.digest.sum(), o)
		w.Shared = t.shares()
		if same || err != nil {
			return w, err
		}
	}
	s, err := t.choose(ctx, c)
	if err != nil {
		return Written{}, err
	}
	part := partName(path)
	w, err := writeFile(ctx, part, c, s, o)
	if err == nil {
		err = finish(part, path)
	}
	if err != nil {
		_ = os.Remove(part) // the first error is the one to report
		return Written{}, wrapWrite(ctx, path, err)
	}
	w.File, w.Rewritten = path, true
	info, err := os.Stat(path)
	if err != nil {
		return Written{}, err
	}
	w.Bytes = info.Size()
	return w, nil
}

// held yields every wanted tile of covers as it is packed: a placeholder is a
// hole, which keeps the hash of the image. A missing tile, or an error of the
// store, ends it with a *[contentError]: a pack never lies.
func (c Content) held(ctx context.Context, data bool, covers ...tiles.Cover) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for p, err := range store.Compare(ctx, c.Tiles, data, covers...) {
			if err == nil && !p.Has {
				err = fmt.Errorf("tile %v is wanted but not in the office store: run pack again to fetch it", p.ID)
			}
			if err != nil {
				yield(store.Held{}, &contentError{err})
				return
			}
			h := p.Held
			if !h.Hole && c.Placeholder != nil && c.Placeholder(h.Hash) {
				h.Hole, h.Data, h.Bytes, h.Media = true, nil, 0, ""
			}
			if !yield(h, nil) {
				return
			}
		}
	}
}

// wrapWrite separates a failing disk from a failing store or a canceled run.
func wrapWrite(ctx context.Context, path string, err error) error {
	var held *contentError
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &held):
		return held.err
	case sqlite.Sort(err) == sqlite.TooLong:
		return &fault.Fault{
			Place: path, Detail: "an overlay, what is worked out of all of them, or a tile is larger than 64 MB",
			Remedy: "split the overlay into several files, or the job into several jobs",
		}
	}
	return notWritten(path, err)
}

// contentError is an error of what is to be written, not of the file.
type contentError struct{ err error }

func (e *contentError) Error() string { return e.err.Error() }
func (e *contentError) Unwrap() error { return e.err }

func writeFile(ctx context.Context, part string, c Content, s prescanned, o WriteOptions) (w Written, err error) {
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
	p := &packWriter{tx: tx, scan: s, quality: c.Quality, opts: o, about: c.About, suspects: byHash(c.Suspects)}
	if err := p.run(ctx, c); err != nil {
		return Written{}, err
	}
	return p.written, tx.Commit()
}

package update

import (
	"bufio"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"groundsheet/pack"
	"groundsheet/serve/health"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/filehash"
	"groundsheet/tiles/measure"
)

// Applied is a pack that was brought to a newer one.
type Applied struct {
	File string `json:"file"`
	Header
	Already bool `json:"was_new"` // it was the newer pack before; nothing was written
}

// Apply brings the pack at a path to the newer one of an update. The newer one is made
// beside it, put on the disk, proved by its SHA-256 and opened as a pack; only then it
// takes the place of the older one. In every other case nothing changes: the error is of
// the kind [NotUpdate], [OtherPack], [pack.NotPack] or [pack.NotWritten].
func Apply(ctx context.Context, path, updateFile string) (done Applied, err error) {
	done.File = path
	u, err := Open(ctx, updateFile)
	if err != nil {
		return done, err
	}
	defer u.Close() //nolint:errcheck // only read
	done.Header = u.Header
	sum, _, err := filehash.Of(ctx, path)
	switch {
	case err != nil:
		return done, err
	case sum == u.New.SHA256:
		done.Already = true
		return done, nil
	case sum != u.Old.SHA256:
		return done, &fault.Fault{Kind: OtherPack, Place: path,
			Detail: fmt.Sprintf("is not the pack that the update begins with (seal %s, packed %s, of %q)", u.Old.Seal, u.Old.Packed.Format("2006-01-02 15:04"), u.Job),
			Remedy: "bring the whole pack, or an update from the pack that is here: it may be damaged, or of another day"}
	}
	if free, _, known := health.Free(filepath.Dir(path)); known && free < u.New.Bytes {
		return done, &fault.Fault{Kind: pack.NotWritten, Place: filepath.Dir(path),
			Detail: fmt.Sprintf("the newer pack has %s, and the disk has room for %s", measure.Size(u.New.Bytes), measure.Size(free)), Remedy: "make room there"}
	}
	return done, u.replace(ctx, path, updateFile)
}

// replace makes the newer pack and gives it the name of the older one.
func (u *Reader) replace(ctx context.Context, path, updateFile string) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	old, err := os.Open(path)
	if err != nil {
		return err
	}
	defer old.Close()
	var told *fault.Fault
	err = replace(path, func(part *os.File) error {
		h := sha256.New()
		out := bufio.NewWriterSize(io.MultiWriter(part, h), 1<<20)
		if err := u.write(ctx, old, out); err != nil {
			if errors.Is(err, errDamaged) {
				return &fault.Fault{Kind: NotUpdate, Place: updateFile, Detail: errDamaged.Error(), Remedy: "bring the whole pack"}
			}
			return err
		}
		if err := errors.Join(out.Flush(), part.Sync()); err != nil {
			return err
		}
		if hex.EncodeToString(h.Sum(nil)) != u.New.SHA256 {
			return &fault.Fault{Kind: NotUpdate, Place: updateFile, Detail: "what comes out of it is not the newer pack", Remedy: "bring the whole pack"}
		}
		return u.isPack(ctx, path, part.Name())
	})
	if err != nil && !errors.As(err, &told) {
		return notWritten(path, err)
	}
	return err
}

// isPack proves that what was made is the pack that the update names. A signed pack is
// replaced by one that bears a signature of the same key alone: an update may come from
// anybody.
func (u *Reader) isPack(ctx context.Context, old, made string) error {
	p, err := pack.Open(ctx, made)
	if err != nil {
		return err
	}
	defer p.Close() //nolint:errcheck // only read
	if p.Info.About.Name != u.Job || p.Info.About.Number != u.Number || p.Info.Seals.Name() != u.New.Seal {
		return &fault.Fault{Kind: NotUpdate, Place: old, Detail: "what comes out of the update is not the pack that it names", Remedy: "bring the whole pack"}
	}
	was, err := pack.Open(ctx, old)
	if err != nil {
		return err
	}
	defer was.Close() //nolint:errcheck // only read
	by, signed, err := was.Signature(ctx)
	if err != nil || !signed {
		return err
	}
	now, _, err := p.Signature(ctx)
	if err == nil && !now.Signs(by.Key, p.Info.Seals.Seal) {
		err = &fault.Fault{Kind: OtherPack, Place: old, Detail: "is signed, and the newer pack is not, or by another key",
			Remedy: "ask the office for an update to a pack that it signed"}
	}
	return err
}

// write puts the pieces together.
func (u *Reader) write(ctx context.Context, old io.ReaderAt, out io.Writer) error {
	in := bufio.NewReaderSize(flate.NewReader(bufio.NewReaderSize(u.pieces, 1<<20)), 1<<16)
	var written, oldEnd int64
	buffer := make([]byte, 1<<20)
	for written < u.New.Bytes {
		if err := ctx.Err(); err != nil {
			return err
		}
		fresh, err := binary.ReadUvarint(in)
		if err != nil || fresh > uint64(u.New.Bytes-written) {
			return errDamaged
		}
		if err := move(out, io.LimitReader(in, int64(fresh)), int64(fresh), buffer); err != nil {
			return err
		}
		written, oldEnd = written+int64(fresh), oldEnd+int64(fresh)
		kept, err := binary.ReadUvarint(in)
		if err != nil || kept > uint64(u.New.Bytes-written) {
			return errDamaged
		}
		if kept == 0 {
			if fresh == 0 {
				return errDamaged // a piece of nothing
			}
			continue
		}
		off, err := binary.ReadVarint(in)
		if err != nil || off < -oldEnd || off > u.Old.Bytes-oldEnd-int64(kept) {
			return errDamaged
		}
		from := oldEnd + off
		if err := move(out, io.NewSectionReader(old, from, int64(kept)), int64(kept), buffer); err != nil {
			return err
		}
		written, oldEnd = written+int64(kept), from+int64(kept)
	}
	return nil
}

// move copies so many bytes. What cannot be read is damage; what cannot be written is not.
func move(out io.Writer, from io.Reader, n int64, buffer []byte) error {
	for n > 0 {
		got, err := io.ReadFull(from, buffer[:min(int64(len(buffer)), n)])
		if err != nil {
			return errDamaged
		}
		if _, err := out.Write(buffer[:got]); err != nil {
			return err
		}
		n -= int64(got)
	}
	return nil
}

func notWritten(path string, err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &fault.Fault{Kind: pack.NotWritten, Place: path, Detail: "the newer pack could not be written", Err: err,
		Remedy: "look at the disk and the folder's permissions; what was there is as it was"}
}

package pack

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"syscall"

	"groundsheet/serve/health"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/measure"
)

// Copied is a copy of a pack that was read back.
type Copied struct {
	File     string `json:"file"`
	Bytes    int64  `json:"bytes"`
	SHA256   string `json:"sha256"` // of the file, as it was read back
	Seal     string `json:"seal"`   // the beginning of the pack's seal, as people compare it; "" without one
	Replaced bool   `json:"replaced"`
}

// Copy copies a pack file into a folder, such as that of a memory stick, under its own
// name. The copy is written under another name, put on the disk, read back from there
// and compared; only then it has the name, so whatever ends the process leaves nothing
// half under it. An older copy of the same job's pack is replaced, any other file is
// not. progress is told bytes, of writing and of reading back together; it may be nil.
// Errors are of the kind [NotPack] or [NotWritten].
func Copy(ctx context.Context, path, folder string, progress func(done, total int64)) (Copied, error) {
	p, err := Open(ctx, path)
	if err != nil {
		return Copied{}, err
	}
	info := p.Info
	if err := p.Close(); err != nil {
		return Copied{}, err
	}
	from, err := os.Open(path)
	if err != nil {
		return Copied{}, err
	}
	defer from.Close()
	file, err := from.Stat()
	if err != nil {
		return Copied{}, err
	}
	c := Copied{File: filepath.Join(folder, filepath.Base(path)), Bytes: file.Size(), Seal: info.Seals.Name()}
	if c.Replaced, err = mayReplace(ctx, file, info, folder, c.File); err != nil {
		return c, err
	}
	c.SHA256, err = copyOpen(ctx, from, c.File, c.Bytes, progress)
	return c, err
}

// CopyFile copies any file as [Copy] does, to a name in a folder that is there; a file
// of that name is replaced. It gives the SHA-256 of what was read back.
func CopyFile(ctx context.Context, path, to string, progress func(done, total int64)) (sum string, bytes int64, err error) {
	from, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer from.Close()
	file, err := from.Stat()
	if err != nil {
		return "", 0, err
	}
	sum, err = copyOpen(ctx, from, to, file.Size(), progress)
	return sum, file.Size(), err
}

func copyOpen(ctx context.Context, from io.Reader, to string, bytes int64, progress func(done, total int64)) (sum string, err error) {
	removeLeftovers(to)
	if err := roomFor(filepath.Dir(to), bytes); err != nil {
		return "", err
	}
	w := copying{ctx: ctx, part: partName(to), total: 2 * bytes, progress: progress}
	if sum, err = w.run(from); err == nil {
		err = finish(w.part, to)
	}
	if err != nil {
		_ = os.Remove(w.part) // the first error is the one to tell
		return "", notCopied(to, err)
	}
	return sum, nil
}

// mayReplace refuses to write over a file that is no older copy of the pack.
func mayReplace(ctx context.Context, file os.FileInfo, info Info, folder, to string) (replaces bool, err error) {
	if at, err := os.Stat(folder); err != nil || !at.IsDir() {
		return false, &fault.Fault{Kind: NotWritten, Place: folder, Detail: "there is no such folder",
			Remedy: "plug the disk in, or name another folder"}
	}
	there, err := os.Stat(to)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, notCopied(to, err)
	}
	if os.SameFile(there, file) {
		return false, &fault.Fault{Kind: NotWritten, Place: to, Detail: "that is the pack itself", Remedy: "name another folder"}
	}
	other := &fault.Fault{Kind: NotWritten, Place: to, Detail: "a file of this name is there, and it is no copy of this job's pack",
		Remedy: "look at it and take it away, or name another folder"}
	old, err := Open(ctx, to)
	if errors.Is(err, Newer) {
		return false, err
	}
	if err != nil {
		return false, other
	}
	was := old.Info.About
	if err := old.Close(); err != nil {
		return false, err
	}
	if was.Name != info.About.Name || was.Number != info.About.Number {
		other.Detail = fmt.Sprintf("a pack of another job (%q) is there under this name", was.Name)
		return false, other
	}
	return true, nil
}

// roomFor refuses a disk without room for so many bytes; what it replaces stays until
// the copy is whole.
func roomFor(folder string, bytes int64) error {
	free, _, known := health.Free(folder)
	if !known || free >= bytes {
		return nil
	}
	return &fault.Fault{Kind: NotWritten, Place: folder,
		Detail: fmt.Sprintf("the file has %s, and the disk has room for %s", measure.Size(bytes), measure.Size(free)),
		Remedy: "make room there, or name a folder on another disk"}
}

// copying is one copy at work.
type copying struct {
	ctx         context.Context
	part        string
	done, total int64
	progress    func(done, total int64)
}

// run writes the copy, has it put on the disk and reads it back; it gives the hash of
// both.
func (c *copying) run(from io.Reader) (string, error) {
	to, err := os.OpenFile(c.part, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
	if err != nil {
		return "", err
	}
	defer to.Close()
	written, err := c.move(to, from)
	if err == nil {
		err = to.Sync()
	}
	if err != nil {
		return "", errors.Join(err, to.Close())
	}
	forget(to) // what is read back comes from the disk, where the system can do that
	if err := to.Close(); err != nil {
		return "", err
	}
	again, err := os.Open(c.part)
	if err != nil {
		return "", err
	}
	defer again.Close()
	read, err := c.move(io.Discard, again)
	if err == nil && read != written {
		err = errNotSame
	}
	return written, err
}

var errNotSame = errors.New("what was read back from the disk is not what was written")

// move copies until the end and hashes what it copies.
func (c *copying) move(to io.Writer, from io.Reader) (string, error) {
	sum := sha256.New()
	buffer := make([]byte, 1<<20)
	for {
		if err := c.ctx.Err(); err != nil {
			return "", err
		}
		n, err := from.Read(buffer)
		if err := c.take(to, sum, buffer[:n]); err != nil {
			return "", err
		}
		if errors.Is(err, io.EOF) {
			return hex.EncodeToString(sum.Sum(nil)), nil
		}
		if err != nil {
			return "", err
		}
	}
}

func (c *copying) take(to io.Writer, sum hash.Hash, data []byte) error {
	sum.Write(data)
	_, err := to.Write(data)
	if c.done += int64(len(data)); c.progress != nil {
		c.progress(c.done, c.total)
	}
	return err
}

func notCopied(to string, err error) error {
	f := &fault.Fault{Kind: NotWritten, Place: to, Detail: "the copy could not be written", Err: err,
		Remedy: "look at the disk and its permissions, then copy again"}
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, errNotSame):
		f.Detail, f.Err = errNotSame.Error(), nil
		f.Remedy = "use another disk: this one does not keep what is written to it"
	case errors.Is(err, syscall.ENOSPC):
		f.Detail, f.Err = "the disk is full", nil
		f.Remedy = "make room there, or name a folder on another disk"
	case errors.Is(err, syscall.EFBIG):
		f.Detail, f.Err = "the disk takes no file this large", nil
		f.Remedy = "format it as exFAT, or use another disk: FAT32 takes files under 4 GB"
	}
	return f
}

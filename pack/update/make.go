package update

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"io"
	"os"

	"groundsheet/pack"
	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// Made is an update that was written.
type Made struct {
	Path string `json:"file"`
	Header
	Bytes int64 `json:"bytes"` // of the update
}

// Options of [Write]. The zero value is fine.
type Options struct {
	Back bool // the pack to come to may have been packed before the one that is there
}

// Write makes the update from an older pack to a newer one of the same job at a path. The
// file is whole or not there. Errors are of the kinds [pack.NotPack], [OtherPack] and
// [Backwards].
func Write(ctx context.Context, old, new, path string, o Options) (m Made, err error) {
	m.Path = path
	if m.Header, err = describe(ctx, old, new); err != nil {
		return m, err
	}
	if m.Back() && !o.Back {
		return m, &fault.Fault{Kind: Backwards, Place: new,
			Detail: "was packed " + m.New.When() + ", before " + old + " (" + m.Old.When() + "): the crew would lose what is newer",
			Remedy: "name the pack that the crew has first, then the newer one; or say --back to bring the crew back to the older one"}
	}
	a, err := open(old)
	if err != nil {
		return m, err
	}
	defer a.close()
	b, err := open(new)
	if err != nil {
		return m, err
	}
	defer b.close()
	err = replace(path, func(part *os.File) error { return m.write(ctx, a, b, part) })
	if err != nil {
		return m, err
	}
	info, err := os.Stat(path)
	if err == nil {
		m.Bytes = info.Size()
	}
	return m, err
}

func (m Made) write(ctx context.Context, a, b *window, part io.Writer) error {
	sum := sha256.New()
	head, err := json.Marshal(m.Header)
	if err != nil {
		return err
	}
	out := io.MultiWriter(part, sum)
	if _, err := out.Write(append([]byte(magic), append(head, '\n')...)); err != nil {
		return err
	}
	if err := pieces(ctx, a, b, out); err != nil {
		return err
	}
	_, err = part.Write(sum.Sum(nil))
	return err
}

// replace writes a file beside its name, has it put on the disk, and gives it the name; in
// every other case what was there stays.
func replace(path string, write func(part *os.File) error) error {
	part := pack.Part(path)
	f, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = durable.Rename(part, path)
	}
	if err != nil {
		_ = os.Remove(part) // the first error is the one to tell
	}
	return err
}

func open(path string) (*window, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &window{f: f, size: info.Size()}, nil
}

func (w *window) close() { _ = w.f.(*os.File).Close() } // only read

// describe opens both packs, and says what differs.
func describe(ctx context.Context, old, new string) (h Header, err error) {
	a, err := pack.Open(ctx, old)
	if err != nil {
		return h, err
	}
	defer a.Close() //nolint:errcheck // only read
	b, err := pack.Open(ctx, new)
	if err != nil {
		return h, err
	}
	defer b.Close() //nolint:errcheck // only read
	from, to := a.Info.About, b.Info.About
	if !b.Info.Own || from.Name != to.Name || from.Number != to.Number || from.Source.Name != to.Source.Name {
		return h, &fault.Fault{Kind: OtherPack, Place: new, Detail: "is no newer pack of the same job and base map as " + old,
			Remedy: "name the pack that the crew has, then the one that it is to have"}
	}
	h.Job, h.Number = to.Name, to.Number
	if h.Old, err = fileOf(ctx, old, a.Info); err != nil {
		return h, err
	}
	if h.New, err = fileOf(ctx, new, b.Info); err != nil {
		return h, err
	}
	h.What, err = whatChanges(ctx, a, b)
	return h, err
}

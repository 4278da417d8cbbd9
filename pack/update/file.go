// Package update brings a pack that is on site to a newer one by a small file: it holds
// what of the newer pack is not in the older one. The file that comes out of it is the
// newer pack to the byte, proved by its SHA-256, or there is none.
//
// An update file (NAME.update) is the line of [magic], a line of JSON ([Header]), pieces
// compressed by DEFLATE (RFC 1951), and the SHA-256 of all before. A piece is a count and
// so many bytes that are new, then a count of bytes that are copied from the older pack
// and, unless that is 0, where they begin there: as the difference to where the last copy
// ended and the new bytes would have gone on. Counts and differences are written as by
// encoding/binary (uvarint, varint).
package update

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/filehash"
)

// Extension is the end of an update file's name.
const Extension = ".update"

const magic = "groundsheet update, layout 1\n"

// Kinds of faults.
var (
	NotUpdate = fault.Input("not an update")
	OtherPack = fault.Input("update of another pack")
	Backwards = fault.Input("update to an older pack")
)

// File is a pack as an update names it.
type File struct {
	Bytes  int64     `json:"bytes"`
	SHA256 string    `json:"sha256"`
	Seal   string    `json:"seal"` // the beginning of it, as people compare it
	Packed time.Time `json:"packed"`
}

// Header is what an update says of itself.
type Header struct {
	Job    string `json:"job"`
	Number string `json:"number"`
	Old    File   `json:"old"`
	New    File   `json:"new"`
	What   What   `json:"what"`
}

// Back reports whether the update comes to a pack that was packed before the one that it
// begins with.
func (h Header) Back() bool { return h.New.Packed.Before(h.Old.Packed) }

// When is when the pack was packed, for people.
func (f File) When() string { return f.Packed.UTC().Format("2006-01-02 15:04:05 MST") }

// What an update changes.
type What struct {
	Changed int      `json:"tiles_changed"`
	Added   int      `json:"tiles_added"`
	Gone    int      `json:"tiles_gone"`
	Parts   []string `json:"parts"` // of the pack's own tables: records, what is derived from them, documents
}

// Largest sizes that are read: an update comes from anywhere.
const (
	maxHeader = 1 << 20
	maxPack   = 1 << 40
)

// Reader is an update file that was proved to be whole.
type Reader struct {
	Header
	Bytes  int64 // of the file
	file   *os.File
	pieces io.Reader
}

// Open opens and proves an update file. The error is of the kind [NotUpdate].
func Open(ctx context.Context, path string) (u *Reader, err error) {
	bad := func(detail string) (*Reader, error) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, &fault.Fault{Kind: NotUpdate, Place: path, Detail: detail, Remedy: "take another copy of the update, or bring the whole pack"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if u == nil {
			_ = f.Close() // only read
		}
	}()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	size := info.Size() - sha256.Size
	if !info.Mode().IsRegular() || size < int64(len(magic)) {
		return bad("is no update")
	}
	h := sha256.New()
	in := bufio.NewReaderSize(io.TeeReader(filehash.Stoppable(ctx, io.NewSectionReader(f, 0, size)), h), maxHeader)
	begins := make([]byte, len(magic))
	if _, err := io.ReadFull(in, begins); err != nil || string(begins) != magic {
		return bad("is no update that this program knows")
	}
	line, err := in.ReadSlice('\n')
	if err != nil {
		return bad("its header is damaged")
	}
	head := bytes.Clone(line)
	if _, err := io.Copy(io.Discard, in); err != nil {
		return nil, err
	}
	sum := make([]byte, sha256.Size)
	if _, err := f.ReadAt(sum, size); err != nil || !bytes.Equal(sum, h.Sum(nil)) {
		return bad("is damaged: it is not what it was when it was written")
	}
	u = &Reader{file: f, Bytes: info.Size()}
	if err := json.Unmarshal(head, &u.Header); err != nil || !u.plausible() {
		u = nil
		return bad("its header is damaged")
	}
	begin := int64(len(magic) + len(head))
	u.pieces = io.NewSectionReader(f, begin, size-begin)
	return u, nil
}

// Close lets the file go.
func (u *Reader) Close() error { return u.file.Close() }

var hexSum = regexp.MustCompile(`^[0-9a-f]{64}$`)

func (h Header) plausible() bool {
	for _, f := range []File{h.Old, h.New} {
		if !hexSum.MatchString(f.SHA256) || f.Bytes <= 0 || f.Bytes > maxPack {
			return false
		}
	}
	return true
}

// fileOf names a pack file as an update does.
func fileOf(ctx context.Context, path string, info pack.Info) (File, error) {
	sum, n, err := filehash.Of(ctx, path)
	return File{Bytes: n, SHA256: sum, Seal: info.Seals.Name(), Packed: info.About.Packed}, err
}

// Text says what an update changes.
func (w What) Text() string {
	var all []string
	for _, c := range []struct {
		n    int
		what string
	}{{w.Changed, "changed"}, {w.Added, "added"}, {w.Gone, "gone"}} {
		if c.n > 0 {
			all = append(all, fmt.Sprintf("tiles %s %d", c.what, c.n))
		}
	}
	return strings.Join(append(all, w.Parts...), ", ")
}

var errDamaged = errors.New("its pieces do not fit together")

// Package local reads the tiles of sources that lie on this machine: an MBTiles
// file, or a folder of z/x/y files. It answers as a careful tile server would
// (validators, 304, 404), as an [http.RoundTripper], so that the
// fetcher treats such a source like any other.
//
// Both are untrusted. An MBTiles file is opened read-only with nothing of its
// schema believed; a folder is never left, whatever links are in it.
package local

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/answer"
	"groundsheet/tiles/fault"
)

// longest is how long a tile may be, in bytes: a hostile file must not fill the
// memory.
const longest = 64 << 20

// Files are the tiles of one local source. Make them with [OpenMBTiles] or
// [OpenFolder]; they are safe for concurrent use until they are closed.
type Files struct {
	Template string // address of a tile, for source.Source.Templates

	from  tileReader
	close func() error
}

// tileReader returns a tile's bytes and when they last changed; no bytes if it has
// no such tile.
type tileReader func(ctx context.Context, t tiles.ID) ([]byte, time.Time, error)

// Unusable is the kind of fault of a file or folder that cannot be a source.
var Unusable = fault.Input("unusable")

func unusable(path, why, remedy string) error {
	return &fault.Fault{Kind: Unusable, Place: path, Detail: why, Remedy: remedy}
}

// Close closes the files.
func (f *Files) Close() error { return f.close() }

// RoundTrip answers a request for [Files.Template]: 200 with the image, 304 if
// the validators sent still hold (RFC 9110, 13.2.2), 404 if there is no such
// tile. The error is one of the disk or of the file.
func (f *Files) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body != nil {
		defer r.Body.Close()
	}
	var data []byte
	var modified time.Time
	id, err := tiles.ParseID(strings.TrimPrefix(r.URL.Path, "/"))
	if err == nil {
		if data, modified, err = f.from(r.Context(), id); err != nil {
			return nil, err
		}
	}
	h := answer.Header()
	if len(data) == 0 {
		return answer.Response(r, http.StatusNotFound, h, nil), nil
	}
	sum := sha256.Sum256(data)
	etag := `"` + hex.EncodeToString(sum[:16]) + `"`
	h.Set("Last-Modified", modified.UTC().Format(http.TimeFormat))
	since, err := http.ParseTime(r.Header.Get("If-Modified-Since"))
	if r.Header.Get("If-None-Match") == "" && err == nil && !modified.Truncate(time.Second).After(since) {
		h.Set("ETag", etag)
		return answer.Response(r, http.StatusNotModified, h, nil), nil
	}
	return answer.Tile(r, h, etag, data), nil
}

// folder reads files below a root that is never left.
type folder struct {
	base string
	path func(tiles.ID) (string, error)
	root *os.Root
}

// OpenFolder opens a folder of tiles. file is a path with placeholders, such as
// "/maps/ortho/{z}/{x}/{y}.png"; path fills them. What comes before the first
// placeholder is the folder that is never left. An [Unusable] fault says why
// it cannot be used.
func OpenFolder(file string, path func(tiles.ID) (string, error)) (*Files, error) {
	fixed, _, _ := strings.Cut(file, "{")
	f := &folder{base: filepath.Dir(fixed + "x"), path: path}
	var err error
	if f.root, err = os.OpenRoot(f.base); err != nil {
		return nil, unusable(f.base, withoutPath(err), "name a folder with tiles: file in sources.toml")
	}
	return &Files{Template: answer.Template("local"), from: f.tile, close: f.root.Close}, nil
}

// withoutPath is the reason without the path, which the message has already.
func withoutPath(err error) string {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		err = p.Err
	}
	return err.Error()
}

func (f *folder) tile(_ context.Context, t tiles.ID) ([]byte, time.Time, error) {
	path, err := f.path(t)
	if err != nil {
		return nil, time.Time{}, err
	}
	name, err := filepath.Rel(f.base, filepath.FromSlash(path))
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: %w", path, err)
	}
	data, modified, err := readTile(f.root, name)
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return nil, time.Time{}, nil
	case err != nil:
		return nil, time.Time{}, fmt.Errorf("%s: %s", path, withoutPath(err)) // also a link that leaves the folder
	}
	return data, modified, nil
}

// readTile reads a regular file of no more than the longest tile.
func readTile(root *os.Root, name string) ([]byte, time.Time, error) {
	info, err := root.Stat(name) // before opening: a pipe would wait for ever
	if err != nil {
		return nil, time.Time{}, err
	}
	if !info.Mode().IsRegular() {
		return nil, time.Time{}, errors.New("not a file")
	}
	if info.Size() > longest {
		return nil, time.Time{}, fmt.Errorf("%d bytes are too long for a tile", info.Size())
	}
	file, err := root.Open(name)
	if err != nil {
		return nil, time.Time{}, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, longest))
	return data, info.ModTime(), err
}

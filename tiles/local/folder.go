package local

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"groundsheet/tiles"
)

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
	return &Files{Template: template, from: f.tile, close: f.root.Close}, nil
}

// withoutPath is the reason without the path, which the message has already.
func withoutPath(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
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

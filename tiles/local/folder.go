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
// placeholder is the folder that is never left. A *[NotUsable] error says why
// it cannot be used.
func OpenFolder(file string, path func(tiles.ID) (string, error)) (*Files, error) {
	fixed, _, _ := strings.Cut(file, "{")
	f := &folder{base: filepath.Dir(fixed + "x"), path: path}
	var err error
	if f.root, err = os.OpenRoot(f.base); err != nil {
		return nil, &NotUsable{f.base, plain(err), "name a folder with tiles: file in sources.toml"}
	}
	return &Files{Template: template, from: f.tile, close: f.root.Close}, nil
}

// plain is the reason without the path, which the message has already.
func plain(err error) string {
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
	info, err := f.stat(name) // before opening: a pipe would wait for ever
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return nil, time.Time{}, nil
	case err != nil:
		return nil, time.Time{}, fmt.Errorf("%s: %s", path, plain(err)) // also a link that leaves the folder
	}
	file, err := f.root.Open(name)
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: %s", path, plain(err))
	}
	defer file.Close()
	return read(file, info, path)
}

func (f *folder) stat(name string) (fs.FileInfo, error) {
	info, err := f.root.Stat(name)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("not a file")
	}
	return info, err
}

func read(file *os.File, info fs.FileInfo, path string) ([]byte, time.Time, error) {
	if info.Size() > longest {
		return nil, time.Time{}, fmt.Errorf("%s: %d bytes are too long for a tile", path, info.Size())
	}
	data, err := io.ReadAll(io.LimitReader(file, longest))
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: %s", path, plain(err))
	}
	return data, info.ModTime(), nil
}

package fieldbook

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/sqlite"
)

// longest is the most bytes that a value of a book may have: a text or a piece of a photo.
const longest = 1 << 20

// Read opens a book from anywhere to be read, also one that a server writes into. It is not
// trusted: see [Book.Verify]. One whose writing was cut off, with a journal beside it, is
// mended in a copy; the files stay as they are.
func Read(path string) (*Book, error) {
	if info, err := os.Stat(path); err != nil || info.IsDir() {
		return nil, &fault.Fault{Kind: NotBook, Place: path, Detail: "the field book cannot be read", Err: err, Remedy: "name a file that ends in " + Extension}
	}
	b := &Book{path: path, o: Options{Now: time.Now}, read: true}
	err := b.openRead(path, "mode=ro", "query_only=ON")
	if _, none := os.Stat(path + journal); err != nil && none == nil {
		if err = b.copy(); err == nil {
			err = b.openRead(filepath.Join(b.copied, "book"), "mode=rw")
		}
	}
	if err != nil {
		return nil, errors.Join(err, b.close())
	}
	return b, nil
}

// journal is the end of the name of a rollback journal (SQLite, "Temporary Files", 2.1).
const journal = "-journal"

func (b *Book) openRead(path, settings string, more ...string) error {
	b.db = sqlite.Open(path, sqlite.Options{
		Settings: settings + "&_busy_timeout=10000", Longest: longest,
		Pragmas: append([]string{"trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0"}, more...),
	})
	b.db.SetMaxOpenConns(1)
	err := b.load(context.Background())
	if err != nil {
		_ = b.db.Close() // it was only read
		b.db = nil
	}
	if errors.Is(err, errUnmade) {
		return nil // a book without entries
	}
	return err
}

// copy copies the file with its journal to where it can be mended.
func (b *Book) copy() (err error) {
	if b.copied, err = os.MkdirTemp("", "groundsheet-book-*"); err != nil {
		return err
	}
	return errors.Join(copyFile(filepath.Join(b.copied, "book"), b.path), copyFile(filepath.Join(b.copied, "book"+journal), b.path+journal))
}

func copyFile(to, from string) error {
	in, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) { // a journal that went away meanwhile
		return nil
	}
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

// Close closes the file.
func (b *Book) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.read = true
	return b.close()
}

// close closes the file and lets go of it. The caller holds mu.
func (b *Book) close() error {
	var err error
	if b.db != nil {
		err = b.db.Close()
	}
	if b.release != nil {
		err = errors.Join(err, b.release())
	}
	if b.copied != "" {
		err = errors.Join(err, os.RemoveAll(b.copied))
	}
	b.db, b.release, b.copied = nil, nil, ""
	return err
}

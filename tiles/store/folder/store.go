package folder

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// suffix is that of a shelf's file; the register has another one, so no shelf
// can take its place.
const suffix = ".sqlite"

// Store is a folder of shelves. It is safe for use by several goroutines.
type Store struct {
	dir    string
	limits []string // pragmas added to every connection; tests set a quota

	mu      sync.Mutex
	shelves map[string]*Shelf
	jobs    *file
	closed  bool
}

// Open opens the store in a folder and makes the folder when it is missing.
func Open(dir string) (*Store, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("store folder %s: %w", dir, err)
	}
	if err := os.MkdirAll(abs, 0o755); err != nil {
		return nil, folderFault(abs, err)
	}
	return &Store{dir: abs, shelves: map[string]*Shelf{}, jobs: registerFile(abs)}, nil
}

func folderFault(dir string, err error) error {
	if sqlite.Sort(err) == sqlite.NoRoom {
		return store.FullDisk(dir, err)
	}
	return fmt.Errorf("cannot make the store folder %s: %w; choose a folder you may write to", dir, plainPathError(err))
}

// plainPathError drops the path that the message already gives.
func plainPathError(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// Where is the folder.
func (s *Store) Where() string { return s.dir }

// Shelf implements [store.Store].
func (s *Store) Shelf(name string) (store.Shelf, error) { return s.shelf(name) }

func (s *Store) shelf(name string) (*Shelf, error) {
	if !store.GoodName(name) {
		return nil, fmt.Errorf("shelf %q: a name is letters, digits and dashes", name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	if shelf, ok := s.shelves[name]; ok {
		return shelf, nil
	}
	shelf := &Shelf{name: name, file: shelfFile(filepath.Join(s.dir, name+suffix), s.limits)}
	s.shelves[name] = shelf
	return shelf, nil
}

// Shelves implements [store.Store].
func (s *Store) Shelves(ctx context.Context) ([]string, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, fmt.Errorf("cannot read the store folder: %w", err)
	}
	var names []string
	for _, e := range entries {
		name, is := strings.CutSuffix(e.Name(), suffix)
		if is && store.GoodName(name) && e.Type().IsRegular() {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, nil
}

// Close implements [store.Store].
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	errs := []error{s.jobs.close()}
	for _, shelf := range s.shelves {
		errs = append(errs, shelf.close())
	}
	return errors.Join(errs...)
}

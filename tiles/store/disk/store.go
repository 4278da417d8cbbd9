package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"sync"

	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
)

// Store is a folder of shelves. It is safe for use by several goroutines.
type Store struct {
	dir    string
	limits []string // pragmas added to every connection; tests set a quota

	mu      sync.Mutex
	shelves map[string]*Shelf
	closed  bool
}

// Record is a tile as it is held: an image with its origin, or a hole, which
// means that the source said it has no such tile.
type Record struct {
	tiles.Tile          // Data only when asked for; times are kept to the microsecond
	Hash       [32]byte // SHA-256 of the image; zero for a hole
	Bytes      int      // length of the image; 0 for a hole
	Hole       bool     // the source says it has none
	Media      string   // "jpg", "png" or "webp"; "" for a hole
	Fixed      bool     // the source forbids changing the image (RFC 9111, 5.2.2.6: no-transform)
}

// Measure is what is held of one zoom.
type Measure struct {
	Tiles     int     // images held, repeated ones counted each time
	Holes     int     // tiles the source says it does not have
	MeanBytes float64 // of the images, repeated ones counted each time; 0 without any
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
	return &Store{dir: abs, shelves: map[string]*Shelf{}}, nil
}

func folderFault(dir string, err error) error {
	if sqlite.Sort(err) == sqlite.NoRoom {
		return &DiskFull{Path: dir, Err: err}
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

// Shelf is the part of the store for one source; name is its store name:
// letters, digits and dashes. Nothing is read or made yet.
func (s *Store) Shelf(name string) (*Shelf, error) {
	if !regexp.MustCompile(`^[A-Za-z0-9-]{1,80}$`).MatchString(name) {
		return nil, fmt.Errorf("shelf %q: a name is letters, digits and dashes", name)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, errors.New("the store is closed")
	}
	if shelf, ok := s.shelves[name]; ok {
		return shelf, nil
	}
	shelf := &Shelf{path: filepath.Join(s.dir, name+".sqlite"), limits: s.limits}
	s.shelves[name] = shelf
	return shelf, nil
}

// Close closes every shelf. Reads that still run end with an error.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	var errs []error
	for _, shelf := range s.shelves {
		errs = append(errs, shelf.close())
	}
	return errors.Join(errs...)
}

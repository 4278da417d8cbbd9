package book

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"time"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
	"groundsheet/tiles/fault"
)

// Pack is a version of a pack that is served.
type Pack struct {
	ID   string // in addresses
	File *pack.Pack
}

// bookFile is the place of the book of one pack, through all its versions.
type bookFile struct {
	path  string
	about fieldbook.About
	o     fieldbook.Options

	mu    sync.Mutex
	book  *fieldbook.Book // nil = there is none that can be read
	err   error           // why nothing can be added; nil = it can
	tried time.Time
}

// retryEvery is how often a book that could not be opened is tried again: a stick is put
// in, a folder gets other permissions, another server ends.
const retryEvery = 5 * time.Second

// open opens the book if it is not open for adding yet. One that can only be read is read.
// The caller holds mu.
func (b *bookFile) open(now time.Time) {
	if b.book != nil && b.err == nil || now.Sub(b.tried).Abs() < retryEvery {
		return
	}
	b.tried = now
	opened, err := fieldbook.Open(b.path, b.about, b.o)
	if b.err = err; err != nil && b.book == nil {
		b.book, _ = fieldbook.Read(b.path) // err says what is wrong with it
	}
	if err != nil {
		return
	}
	if b.book != nil {
		_ = b.book.Close() // it was only read
	}
	b.book = opened
}

func (b *bookFile) close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.book == nil {
		return nil
	}
	return b.book.Close()
}

// Use tells of a version of a pack that is served from now on. The book of the pack goes
// on: its name is that of the file.
func (s *Server) Use(p Pack) {
	s.mu.Lock()
	defer s.mu.Unlock()
	about, area := aboutOf(p.File, s.Program), areaOf(p.File)
	b := s.books[p.ID]
	if b == nil {
		b = &bookFile{path: s.path(p.File.Path), about: about, o: s.Book}
		s.books[p.ID] = b
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.about, b.o.Area = about, area
	b.open(s.Book.Now())
	if b.book != nil {
		b.book.Use(about.Seal, area)
		if latest, err := b.book.Latest(context.Background()); err == nil && latest > 0 {
			s.announce(p.ID, latest)
		}
	}
}

// of gives the book of a pack, nil when there is none to read, and why nothing can be
// added to it.
func (s *Server) of(id string) (*fieldbook.Book, error) {
	s.mu.Lock()
	b := s.books[id]
	s.mu.Unlock()
	if b == nil {
		return nil, errors.New("no such pack was told of")
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.open(s.Book.Now())
	return b.book, b.err
}

func (s *Server) path(pack string) string {
	path := fieldbook.Path(pack)
	if s.Folder != "" {
		path = filepath.Join(s.Folder, filepath.Base(path))
	}
	return path
}

func aboutOf(file *pack.Pack, program string) fieldbook.About {
	return fieldbook.About{Name: file.Info.Name, Number: file.Info.About.Number, Seal: file.Info.Seals.Seal, Program: program}
}

// areaOf is the box of the dig area, else of the map; empty where a pack tells neither.
func areaOf(file *pack.Pack) orb.Bound {
	if ground, err := pack.ReadGround(file.Info.Area); err == nil {
		return ground.Margin.Bound()
	}
	b := file.Info.Bounds
	return orb.Bound{Min: orb.Point{b.West, b.South}, Max: orb.Point{b.East, b.North}}
}

// State is how the book of a pack is.
type State struct {
	Path    string
	Marks   int
	Photos  int
	Trouble string // why nothing can be added, for people; "" = it can
}

// State is how the book of a pack is; ok is false when the pack was never served.
func (s *Server) State(ctx context.Context, id string) (state State, ok bool) {
	s.mu.Lock()
	b := s.books[id]
	s.mu.Unlock()
	if b == nil {
		return state, false
	}
	book, err := s.of(id)
	state = State{Path: b.path, Trouble: trouble(err)}
	if book != nil {
		if state.Marks, state.Photos, err = book.Count(ctx); err != nil {
			state.Trouble = trouble(err)
		}
	}
	return state, true
}

// trouble is an error of a book in words that name no path; "" for none.
func trouble(err error) string {
	var f *fault.Fault
	switch {
	case err == nil:
		return ""
	case errors.As(err, &f) && f.Detail != "":
		return f.Detail
	}
	return "the field book cannot be used"
}

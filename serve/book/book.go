// Package book answers for the field books beside the packs: phones of role mark add
// entries and photos, everybody reads them. What is answered is on the disk.
package book

import (
	"cmp"
	"errors"
	"net/http"
	"path/filepath"
	"sync"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
	"groundsheet/serve/auth"
	"groundsheet/serve/document"
	"groundsheet/serve/health"
	"groundsheet/tiles/fault"
)

// Options of a [Server].
type Options struct {
	Responder *document.Responder
	Book      fieldbook.Options // but its Area
	Folder    string            // of the books; "" = beside each pack
	Program   string            // that makes books
	Latest    func(pack string, number int64)
}

// Server answers for the books of any number of packs. Make it with [New].
type Server struct {
	Options
	mu    sync.Mutex
	books map[string]*shelf // by the ID of the pack
}

// shelf is the book of one pack, through all its versions.
type shelf struct {
	mu      sync.Mutex
	version string
	book    *fieldbook.Book // nil = it could not be opened
	err     error           // why
}

// New makes a server without books.
func New(o Options) *Server { return &Server{Options: o, books: map[string]*shelf{}} }

// Close closes all books.
func (s *Server) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var errs []error
	for _, b := range s.books {
		if b.book != nil {
			errs = append(errs, b.book.Close())
		}
	}
	clear(s.books)
	return errors.Join(errs...)
}

// Pack is a version of a pack that is served.
type Pack struct {
	document.Address
	File *pack.Pack
}

// of gives the book of a pack; it is opened when it is first asked for, and told of each
// version of the pack.
func (s *Server) of(p Pack) (*fieldbook.Book, error) {
	s.mu.Lock()
	b := s.books[p.ID]
	if b == nil {
		b = &shelf{}
		s.books[p.ID] = b
	}
	s.mu.Unlock()
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.book != nil && b.version == p.Version {
		return b.book, nil
	}
	about, o := aboutOf(p.File, s.Program), s.Book
	o.Area = areaOf(p.File)
	if b.book == nil {
		b.book, b.err = fieldbook.Open(s.path(p.File.Path), about, o)
	} else {
		b.err = b.book.Use(about.Seal, o.Area)
	}
	if b.err == nil {
		b.version = p.Version
	}
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

// Handler answers for the book of a pack.
type Handler func(w http.ResponseWriter, r *http.Request, p Pack)

// Routes are the patterns of the addresses with their handlers.
func (s *Server) Routes() map[string]Handler {
	return map[string]Handler{
		"GET /packs/{pack}/book":                    s.with(s.state),
		"GET /packs/{pack}/book/entries":            s.with(s.entries),
		"POST /packs/{pack}/book/entries":           s.writing(s.add),
		"PUT /packs/{pack}/book/photos/{hash}":      s.writing(s.addPiece),
		"GET /packs/{pack}/book/photos/{hash}/have": s.with(s.have),
		"GET /packs/{pack}/book/photos/{hash}":      s.with(s.photo),
	}
}

type handler func(w http.ResponseWriter, r *http.Request, p Pack, b *fieldbook.Book)

// with opens the book for a request. Nothing of a book is kept by a phone's cache.
func (s *Server) with(handle handler) Handler {
	return func(w http.ResponseWriter, r *http.Request, p Pack) {
		w.Header().Set("Cache-Control", "no-store")
		b, err := s.of(p)
		if err != nil {
			s.refuse(w, r, err)
			return
		}
		handle(w, r, p, b)
	}
}

// writing lets phones of role mark through alone.
func (s *Server) writing(handle handler) Handler {
	inner := s.with(handle)
	return func(w http.ResponseWriter, r *http.Request, p Pack) {
		if auth.RoleOf(r) != auth.Recorder {
			w.Header().Set("Cache-Control", "no-store")
			http.Error(w, "this phone may look and not mark: join again with the code to mark", http.StatusForbidden)
			return
		}
		inner(w, r, p)
	}
}

// refuse answers for an error of the book; the phone learns no paths.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the phone went away
	}
	status, say := http.StatusInternalServerError, "the field book on the laptop cannot be used; what is on this phone stays on it"
	var f *fault.Fault
	errors.As(err, &f)
	switch {
	case errors.Is(err, fieldbook.NoRoom):
		status, say = http.StatusInsufficientStorage, "the laptop's disk is full; what is on this phone stays on it. Make room on the laptop"
	case errors.Is(err, fieldbook.BadPhoto):
		status, say = http.StatusUnprocessableEntity, cmp.Or(f.Detail, "the photo cannot be used")
	case errors.Is(err, fieldbook.Busy), errors.Is(err, fieldbook.Denied), errors.Is(err, fieldbook.NotBook), errors.Is(err, fieldbook.Damaged):
		status, say = http.StatusServiceUnavailable, f.Detail+"; what is on this phone stays on it"
		w.Header().Set("Retry-After", "5")
	}
	if status != http.StatusUnprocessableEntity {
		s.Responder.Failed.Add(1)
		s.Responder.Log.Error("the field book failed", "path", r.URL.Path, "err", err)
	}
	http.Error(w, say, status)
}

// room is how many bytes the disk of the books has left; nil = not known.
func room(path string) *int64 {
	free, _, ok := health.Free(filepath.Dir(path))
	if !ok {
		return nil
	}
	return &free
}

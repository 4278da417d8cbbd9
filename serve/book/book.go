// Package book answers for the field books beside the packs: phones of role mark add
// entries and photos, everybody reads them. What is answered is on the disk.
package book

import (
	"errors"
	"net/http"
	"path/filepath"
	"sync"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/serve/auth"
	"groundsheet/serve/document"
	"groundsheet/serve/health"
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
	books map[string]*bookFile // by the ID of the pack
}

// New makes a server without books.
func New(o Options) *Server {
	if o.Book.Now == nil {
		o.Book.Now = time.Now
	}
	return &Server{Options: o, books: map[string]*bookFile{}}
}

// Close closes all books.
func (s *Server) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var errs []error
	for _, b := range s.books {
		errs = append(errs, b.close())
	}
	clear(s.books)
	return errors.Join(errs...)
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

// with gives a request the book to read. Nothing of a book is kept by a phone's cache.
func (s *Server) with(handle handler) Handler {
	return func(w http.ResponseWriter, r *http.Request, p Pack) {
		w.Header().Set("Cache-Control", "no-store")
		b, err := s.of(p.ID)
		if b == nil {
			s.refuse(w, r, err)
			return
		}
		handle(w, r, p, b)
	}
}

// writing gives a request of a phone of role mark, and no other, the book to add to.
func (s *Server) writing(handle handler) Handler {
	return func(w http.ResponseWriter, r *http.Request, p Pack) {
		w.Header().Set("Cache-Control", "no-store")
		if auth.RoleOf(r) != auth.Recorder {
			http.Error(w, "this phone may look and not mark: join again with the code to mark", http.StatusForbidden)
			return
		}
		b, err := s.of(p.ID)
		if err != nil {
			s.refuse(w, r, err)
			return
		}
		handle(w, r, p, b)
	}
}

// refuse answers for an error of the book; the phone learns no paths.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the phone went away
	}
	status, say := http.StatusInternalServerError, "the field book on the laptop cannot be used; what is on this phone stays on it"
	switch {
	case errors.Is(err, fieldbook.NoRoom):
		status, say = http.StatusInsufficientStorage, "the laptop's disk is full; what is on this phone stays on it. Make room on the laptop"
	case errors.Is(err, fieldbook.BadPhoto):
		status, say = http.StatusUnprocessableEntity, trouble(err)
	case errors.Is(err, fieldbook.Busy), errors.Is(err, fieldbook.Denied), errors.Is(err, fieldbook.NotBook),
		errors.Is(err, fieldbook.Damaged), errors.Is(err, fieldbook.ReadOnly):
		status, say = http.StatusServiceUnavailable, trouble(err)+"; what is on this phone stays on it"
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

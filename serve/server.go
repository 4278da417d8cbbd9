// Package serve is the field server: it opens packs and gives phones on the
// hotspot the map page, tiles, overlays and what the packs say of themselves.
// It needs no internet, and nothing it sends makes a phone ask for any.
package serve

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"runtime"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/overlay"
	"groundsheet/serve/gate"
	"groundsheet/serve/viewer"
)

// Options of a field server. The zero value is fine.
type Options struct {
	Log  *slog.Logger // nil = silent
	Page fs.FS        // the map page; nil = the built-in one
	Gate gate.Options // who may come in; its page and log are filled in here
}

// Server serves packs; it is an http.Handler. Make it with [Open], let it go
// with [Server.Close].
type Server struct {
	log   *slog.Logger
	packs []*site
	mux   *http.ServeMux
	gate  gate.Options
	busy  chan struct{} // one place for each tile that is being enlarged
}

// site is one pack and the name it has in addresses.
type site struct {
	id   string
	pack *pack.Pack
	tag  string                           // changes when the pack does; part of every tile's address and ETag
	docs map[string]func() (asset, error) // by what follows the pack in the address; made once, when first asked for
}

// Open opens the packs. Errors are those of [pack.Open], or a page that has
// not been built.
func Open(ctx context.Context, paths []string, o Options) (*Server, error) {
	s := &Server{log: o.Log, busy: make(chan struct{}, runtime.GOMAXPROCS(0))}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	page := o.Page
	if page == nil {
		var err error
		if page, err = viewer.Files(); err != nil {
			return nil, err
		}
	}
	for _, path := range paths {
		p, err := pack.Open(ctx, path)
		if err != nil {
			return nil, errors.Join(err, s.Close())
		}
		site := &site{id: s.freeID(p.Info.Name), pack: p, tag: versionTag(path)}
		site.documents()
		s.packs = append(s.packs, site)
	}
	s.gate = o.Gate
	s.gate.Page, s.gate.Log = page, s.log
	if err := s.routes(page); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// versionTag changes whenever the file does.
func versionTag(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Sprintf("%x", time.Now().UnixNano())
	}
	return fmt.Sprintf("%x-%x", info.ModTime().UnixNano(), info.Size())
}

func (s *Server) freeID(name string) string {
	id := overlay.Slug(name)
	for n := 2; s.find(id) != nil; n++ {
		id = fmt.Sprintf("%s-%d", overlay.Slug(name), n)
	}
	return id
}

func (s *Server) find(id string) *site {
	for _, p := range s.packs {
		if p.id == id {
			return p
		}
	}
	return nil
}

// Close lets the packs go.
func (s *Server) Close() error {
	var errs []error
	for _, p := range s.packs {
		errs = append(errs, p.pack.Close())
	}
	return errors.Join(errs...)
}

func (s *Server) routes(page fs.FS) error {
	files, err := pageHandler(page)
	if err != nil {
		return err
	}
	s.mux = http.NewServeMux()
	s.mux.Handle("GET /", files)
	s.mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { writeText(w, "ok\n") })
	s.mux.HandleFunc("GET /packs.json", s.list)
	s.mux.HandleFunc("GET /packs/{pack}/tilejson.json", s.with(s.tileJSON))
	s.mux.HandleFunc("GET /packs/{pack}/{doc...}", s.with(s.document))
	s.mux.HandleFunc("GET /packs/{pack}/tiles/{z}/{x}/{file}", s.with(s.tile))
	return nil
}

// ServeHTTP answers one request, whoever asks: [Server.Listen] puts the gate before it.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	gate.SetHeaders(w.Header())
	s.mux.ServeHTTP(w, r)
}

// with finds the pack named in the address.
func (s *Server) with(handle func(http.ResponseWriter, *http.Request, *site)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		p := s.find(r.PathValue("pack"))
		if p == nil {
			http.Error(w, "there is no such pack on this server", http.StatusNotFound)
			return
		}
		handle(w, r, p)
	}
}

// Listen lets people in on addr until ctx ends; see [gate.Listen]. ready is told
// the address as it came out, and the codes.
func (s *Server) Listen(ctx context.Context, addr string, ready func(gate.Opening)) error {
	return gate.Listen(ctx, addr, s, s.gate, ready)
}

func writeText(w http.ResponseWriter, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = strings.NewReader(text).WriteTo(w) // the phone went away: nobody is left to tell
}

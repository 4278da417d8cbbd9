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
	"net"
	"net/http"
	"os"
	"runtime"
	"strings"
	"syscall"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/overlay"
	"groundsheet/serve/viewer"
)

// Options of a field server. The zero value is fine.
type Options struct {
	Log  *slog.Logger // nil = silent
	Page fs.FS        // the map page; nil = the built-in one
}

// Server serves packs; it is an http.Handler. Make it with [Open], let it go
// with [Server.Close].
type Server struct {
	log   *slog.Logger
	packs []*site
	mux   *http.ServeMux
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

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	// Nothing may be loaded from anywhere but this server.
	h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
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
		if p.sameVersion(w, r) {
			handle(w, r, p)
		}
	}
}

// Listen listens on addr and serves until ctx ends, then lets running answers
// finish for a few seconds. ready is told the address as it came out.
func (s *Server) Listen(ctx context.Context, addr string, ready func(net.Addr)) error {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) {
			return fmt.Errorf("cannot listen on %s: another server is running there; end it, or choose another port with --listen", addr)
		}
		return fmt.Errorf("cannot listen on %s: %w; give an address of this machine and a port from 1024 to 65535 with --listen", addr, err)
	}
	server := &http.Server{
		Handler: s, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	stopped := make(chan struct{})
	go func() {
		<-ctx.Done()
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		if server.Shutdown(grace) != nil {
			_ = server.Close() // a phone keeps a connection open without asking anything
		}
		close(stopped)
	}()
	ready(l.Addr())
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	<-stopped
	return nil
}

func writeText(w http.ResponseWriter, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = strings.NewReader(text).WriteTo(w) // the phone went away: nobody is left to tell
}

package serve

import (
	"net/http"
	"strings"

	"groundsheet/serve/auth"
	"groundsheet/serve/book"
	"groundsheet/serve/document"
	"groundsheet/serve/standard"
	"groundsheet/serve/tile"
)

// ServeHTTP answers one request, whoever asks: [Server.Listen] puts an [auth.Handler] before it.
// Nearly all requests are for tiles, so they do not go through the mux.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.clients.Record(r)
	if s.serveTile(w, r) {
		return
	}
	auth.SetHeaders(w.Header())
	s.mux.ServeHTTP(w, r)
}

// Headers of tiles as net/http stores them.
var (
	nosniff        = []string{"nosniff"}
	resourcePolicy = []string{auth.ResourcePolicy}
)

// serveTile answers a request for a tile of a pack that is served; else it reports
// false and has done nothing.
func (s *Server) serveTile(w http.ResponseWriter, r *http.Request) bool {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	id, t, ok := tile.ParseAddress(r.URL.Path)
	if !ok {
		return false
	}
	p, _ := s.packs.Acquire(id)
	if p == nil {
		return false
	}
	defer p.Release()
	h := w.Header()
	h["X-Content-Type-Options"], h["Cross-Origin-Resource-Policy"] = nosniff, resourcePolicy
	if p.Attached.checkVersion(w, r) {
		p.Attached.ServeTile(w, r, t)
	}
	return true
}

func (s *Server) handle(pattern string, h http.HandlerFunc) {
	s.patterns = append(s.patterns, pattern)
	s.mux.Handle(pattern, h)
}

func (s *Server) routes(page http.Handler) {
	s.handle("GET /", page.ServeHTTP)
	s.handle("GET /events", s.events.ServeHTTP)
	s.handle("GET /packs.json", s.withAll(func(w http.ResponseWriter, r *http.Request, packs []*servedPack) {
		var all []*document.Set
		for _, p := range packs {
			all = append(all, p.Attached.documents)
		}
		s.reply.List(w, r, all)
	}))
	s.handle("GET /packs/{pack}/tilejson.json", s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) {
		p.Attached.TileJSON(w, r)
	}))
	s.handle("GET /packs/{pack}/{doc...}", s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) {
		s.reply.Serve(w, r, p.Attached.documents, r.PathValue("doc"))
	}))
	// For what serveTile does not take: a pack that is not served, or a wrong address.
	s.handle("GET /packs/{pack}/tiles/{z}/{x}/{file}", s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) {
		_, t, ok := tile.ParseAddress(r.URL.Path)
		if !ok {
			http.Error(w, "no such tile: want tiles/ZOOM/COLUMN/ROW.FORMAT", http.StatusNotFound)
			return
		}
		p.Attached.ServeTile(w, r, t)
	}))
	for pattern, h := range s.overlays.Routes() {
		s.handle(pattern, s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) { h(w, r, p.Attached.overlays) }))
	}
	for pattern, h := range s.books.Routes() {
		s.handle(pattern, s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) {
			h(w, r, book.Pack{ID: p.ID, File: p.File})
		}))
	}
	for pattern, h := range s.monitor.Routes() {
		s.handle(pattern, h)
	}
	s.standardRoutes(page)
}

// standardRoutes adds the routes for other map programs, to which the root belongs.
func (s *Server) standardRoutes(page http.Handler) {
	root := func(w http.ResponseWriter, r *http.Request, packs []standard.Pack) {
		if len(packs) == 1 {
			document.SetPreload(w.Header(), &packs[0].Address)
		} else {
			document.SetPreload(w.Header(), nil) // which of several packs is opened, only the page knows
		}
		page.ServeHTTP(w, r)
	}
	for pattern, h := range standard.Routes(s.reply, root) {
		if strings.Contains(pattern, "{pack}") {
			s.handle(pattern, s.with(func(w http.ResponseWriter, r *http.Request, p *servedPack) {
				h(w, r, []standard.Pack{standardPack(p)})
			}))
			continue
		}
		s.handle(pattern, s.withAll(func(w http.ResponseWriter, r *http.Request, packs []*servedPack) {
			var all []standard.Pack
			for _, p := range packs {
				all = append(all, standardPack(p))
			}
			h(w, r, all)
		}))
	}
}

func standardPack(p *servedPack) standard.Pack {
	return standard.Pack{Address: p.Attached.Address, File: p.File, Tiles: p.Attached.Set}
}

// with acquires the pack that the address names for the request.
func (s *Server) with(handle func(http.ResponseWriter, *http.Request, *servedPack)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		p, known := s.packs.Acquire(r.PathValue("pack"))
		switch {
		case !known:
			http.Error(w, "there is no such pack on this server", http.StatusNotFound)
		case p == nil:
			w.Header().Set("Retry-After", "2")
			w.Header().Set("Cache-Control", "no-store")
			http.Error(w, "the pack is being exchanged or is gone: try again in a moment", http.StatusServiceUnavailable)
		default:
			defer p.Release()
			if p.Attached.checkVersion(w, r) {
				handle(w, r, p)
			}
		}
	}
}

// withAll acquires all packs for the request. One that is being replaced at this moment
// is left out.
func (s *Server) withAll(handle func(http.ResponseWriter, *http.Request, []*servedPack)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		packs := s.packs.AcquireAll()
		defer func() {
			for _, p := range packs {
				p.Release()
			}
		}()
		handle(w, r, packs)
	}
}

// versionHeader names the version of the pack that an answer came from, so that a
// phone never mixes two.
const versionHeader = "Groundsheet-Pack"

// checkVersion says which version answers, and whether it is the one that was asked for
// by ?v=. Another one is gone: 410.
func (a *attachment) checkVersion(w http.ResponseWriter, r *http.Request) bool {
	w.Header()[versionHeader] = a.version
	if r.URL.RawQuery == "" || r.URL.RawQuery == a.query {
		return true
	}
	if v := r.URL.Query().Get("v"); v == "" || v == a.Version {
		return true
	}
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, "this version of the pack is not served any more: load the map again", http.StatusGone)
	return false
}

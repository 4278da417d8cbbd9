// Package serve is the field server: it opens packs and gives phones on the
// hotspot the map page, tiles, overlays and what the packs say of themselves.
// It needs no internet, and nothing it sends makes a phone ask for any.
package serve

import (
	"cmp"
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"golang.org/x/sync/singleflight"

	"groundsheet/serve/auth"
	"groundsheet/serve/listen"
	"groundsheet/serve/position"
	"groundsheet/serve/web"
)

// Options of a field server. The zero value is fine.
type Options struct {
	Log  *slog.Logger     // nil = silent
	Page fs.FS            // the map page; nil = the built-in one
	Look time.Duration    // how often to look for exchanged packs; 0 = each second, below 0 = only in [Server.Look]
	Now  func() time.Time // nil = the computer's clock

	// Memory is how many bytes of tiles are kept in memory; 0 = 24 MB, below 0 = none.
	Memory int

	Listen   listen.Options // for [Server.Listen]; page and log are filled in here
	Power    fs.FS          // where the system tells of batteries; nil = /sys/class/power_supply
	Position *position.Feed // a receiver on this computer, run by the caller; nil = none
	Streams  int            // event streams at once, one for each phone; 0 = 200
}

// Server serves packs; it is an http.Handler. Make it with [Open], let it go
// with [Server.Close].
//
// A pack may be exchanged while it is served, by renaming a new file over the
// old one: within about two seconds the new one takes over under the same id,
// and requests that run on the old one finish. [Server.Packs] tells what is
// served, [Server.OnPack] when that changes.
type Server struct {
	log    *slog.Logger
	now    func() time.Time
	racks  *racks
	mux    *routes
	listen listen.Options

	hot, made *memory            // tiles as packed, and those that were enlarged or shrunk
	making    singleflight.Group // of tiles, by their place
	busy      chan struct{}      // one place for each tile that is being made
	makingOf  *auth.Limiter      // of a phone's tiles that are being made or cut
	looking   chan struct{}      // one place for each question by place that is being answered
	asking    *auth.Limiter      // of a phone's questions by place
	sending   *auth.Limiter      // of a phone's large documents
	nosniff   []string           // headers as net/http wants them
	near      []string

	watch    *watch         // how the server is
	position *position.Feed // nil = none
	news     *news
}

// Open opens the packs; of a folder, all its .mbtiles files. Errors are those of
// [pack.Open] for a file, or a page that has not been built. A file in a folder
// that cannot be opened is no error: [Server.Packs] tells.
func Open(ctx context.Context, paths []string, o Options) (*Server, error) {
	room := cmp.Or(o.Memory, 24<<20)
	s := &Server{
		log: o.Log, now: o.Now, busy: make(chan struct{}, cores), nosniff: []string{"nosniff"}, near: []string{auth.ResourcePolicy},
		makingOf: auth.NewLimiter(madeOfSession, madeOfAddress, madeWaiting, makeTime),
		looking:  make(chan struct{}, max(1, cores-1)), asking: auth.NewLimiter(looksOfSession, looksOfAddress, looksWaiting, lookPatience),
		sending: auth.NewLimiter(mostPressed, mostPressed, pressedWaiting, pressedPatience),
		hot:     newMemory(room*3/4, true), made: newMemory(room/4, false),
		position: o.Position, news: newNews(o.Streams),
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	s.watch = newWatch(s.now, o.Power, paths)
	s.log = slog.New(tee{Handler: s.log.Handler(), troubles: &s.watch.troubles})
	page := o.Page
	if page == nil {
		var err error
		if page, err = web.Files(); err != nil {
			return nil, err
		}
	}
	s.racks = newRacks(s.log, s.now, func(p *site) { s.hot.forget(p.serial); s.made.forget(p.serial) })
	if err := s.racks.add(ctx, paths); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	s.listen = o.Listen
	s.listen.Auth.Page, s.listen.Auth.Log, s.listen.OnStop = page, s.log, s.news.end // a stream never ends by itself
	if err := s.routes(page); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if o.Look >= 0 {
		s.racks.watch(cmp.Or(o.Look, time.Second))
	}
	return s, nil
}

// Close lets the packs go; requests that still run keep theirs until they end,
// which streams of events do now.
func (s *Server) Close() error {
	s.news.end()
	return s.racks.close()
}

func (s *Server) routes(page fs.FS) error {
	files, err := pageHandler(page)
	if err != nil {
		return err
	}
	s.mux = &routes{}
	files = s.preload(files)
	s.mux.Handle("GET /", files)
	s.routesHealth()
	s.routesStandards(files)
	s.mux.HandleFunc("GET /packs.json", s.list)
	s.mux.HandleFunc("GET /packs/{pack}/tilejson.json", s.with(s.tileJSON))
	s.mux.HandleFunc("GET /packs/{pack}/{doc...}", s.with(s.document))
	s.routesTiles()
	s.routesEvents()
	s.routesLarge()
	return nil
}

// ServeHTTP answers one request, whoever asks: [Server.Listen] puts an [auth.Handler] before it.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.watch.seen.note(r)
	if s.quickTile(w, r) {
		return
	}
	auth.SetHeaders(w.Header())
	s.mux.ServeHTTP(w, r)
}

// with finds the pack named in the address, and keeps it open for the request.
func (s *Server) with(handle func(http.ResponseWriter, *http.Request, *site)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		p, known := s.racks.take(r.PathValue("pack"))
		switch {
		case !known:
			http.Error(w, "there is no such pack on this server", http.StatusNotFound)
		case p == nil:
			w.Header().Set("Retry-After", "2")
			w.Header().Set("Cache-Control", "no-store")
			http.Error(w, "the pack is being exchanged or is gone: try again in a moment", http.StatusServiceUnavailable)
		default:
			defer p.release()
			if p.sameVersion(w, r) {
				handle(w, r, p)
			}
		}
	}
}

// Listen lets people in on addr until ctx ends; see [listen.Serve]. ready is told
// the address as it came out, and the codes.
func (s *Server) Listen(ctx context.Context, addr string, ready func(listen.Access)) error {
	return listen.Serve(ctx, addr, s, s.listen, func(o listen.Access) {
		s.watch.guessing.Store(&o.Guessing)
		ready(o)
	})
}

// Guessing tells of codes that somebody guesses while [Server.Listen] runs; nil when
// nobody does.
func (s *Server) Guessing() *auth.Guessing {
	if at := s.watch.guessing.Load(); at != nil {
		return (*at)()
	}
	return nil
}

func writeText(w http.ResponseWriter, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = strings.NewReader(text).WriteTo(w) // the phone went away: nobody is left to tell
}

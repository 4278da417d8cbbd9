// Package serve is the field server: it opens packs and gives phones on the hotspot
// the map page, tiles, overlays and documents. It needs no internet, and nothing it
// sends makes a phone ask for any.
package serve

import (
	"cmp"
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"path/filepath"
	"time"

	"groundsheet/pack/fieldbook"
	"groundsheet/serve/auth"
	"groundsheet/serve/book"
	"groundsheet/serve/catalog"
	"groundsheet/serve/document"
	"groundsheet/serve/event"
	"groundsheet/serve/listen"
	"groundsheet/serve/overlay"
	"groundsheet/serve/position"
	"groundsheet/serve/status"
	"groundsheet/serve/tile"
	"groundsheet/serve/web"
)

// Options of a field server. The zero value is fine.
type Options struct {
	Log  *slog.Logger     // nil = silent
	Page fs.FS            // the map page; nil = the built-in one
	Poll time.Duration    // how often to scan for replaced packs; 0 = each second, below 0 = only in [Server.Scan]
	Now  func() time.Time // nil = the computer's clock

	// Memory is how many bytes of tiles are cached; 0 = 24 MB, below 0 = none.
	Memory int

	Listen   listen.Options // for [Server.Listen]; page and log are filled in here
	Power    fs.FS          // where the system describes batteries; nil = /sys/class/power_supply
	Position *position.Feed // a receiver on this computer, run by the caller; nil = none
	Streams  int            // event streams at once, one for each phone; 0 = 200

	Fieldbooks string // folder of the field books; "" = each beside its pack
	Program    string // its name and version, for books that it makes
}

// Server serves packs; it is an http.Handler. Make it with [Open], end it with
// [Server.Close].
//
// A pack may be replaced while it is served, by renaming a new file over the old one:
// within about two seconds the new one is served under the same ID, and requests that
// run on the old one finish. [Server.Packs] says what is served, [Server.OnPack] when
// that changes.
type Server struct {
	packs    *catalog.Catalog[*attachment]
	mux      http.ServeMux
	patterns []string // of the mux
	listen   listen.Options
	clients  *status.Clients
	reply    *document.Responder
	tiles    *tile.Server
	overlays *overlay.Server
	books    *book.Server
	events   *event.Hub
	monitor  *status.Monitor
}

// servedPack is a pack with what the server attaches to it.
type servedPack = catalog.Pack[*attachment]

// attachment is what the server has of one version of a pack.
type attachment struct {
	*tile.Set
	documents *document.Set
	overlays  *overlay.Set
	query     string   // of an address with this version in it
	version   []string // the header that names it
}

// Close ends what still runs on the pack.
func (a *attachment) Close() {
	a.overlays.Close()
	a.Set.Close()
}

func (s *Server) attach(p *servedPack) *attachment {
	at := document.Address{ID: p.ID, Version: p.Version}
	documents := document.New(at, p.File, p.Verdict)
	a := &attachment{
		Set: s.tiles.Open(at, p.File), documents: documents, overlays: s.overlays.Open(documents, p.File),
		query: at.Query(), version: []string{p.Version},
	}
	addKeepList(documents, p.File, a.Set)
	s.books.Use(book.Pack{ID: p.ID, File: p.File})
	return a
}

// Open opens the packs; of a folder, all its .mbtiles files. Errors are those of
// [pack.Open] for a file, or a page that has not been built. A file in a folder that
// cannot be opened is no error: [Server.Packs] says so.
func Open(ctx context.Context, paths []string, o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Page == nil {
		var err error
		if o.Page, err = web.Files(); err != nil {
			return nil, err
		}
	}
	page, err := document.Page(o.Page)
	if err != nil {
		return nil, err
	}
	errorLog := status.NewErrorLog(o.Now, paths)
	log := errorLog.Tee(o.Log)
	limiter := auth.NewLimiter(rendersOfSession, rendersOfAddress, rendersWaiting, tile.RenderWait)
	rendering := make(chan struct{}, cores)
	s := &Server{listen: o.Listen, clients: status.NewClients(o.Now), reply: document.NewResponder(log)}
	s.tiles = tile.New(tile.Options{Responder: s.reply, Now: o.Now, Memory: o.Memory, Limiter: limiter,
		Rendering: rendering})
	// A core is left to the tiles.
	s.overlays = overlay.New(overlay.Options{
		Responder: s.reply, Limiter: limiter, Cutting: rendering, Searching: max(1, cores-1),
	})
	s.events = event.New(event.Options{Streams: o.Streams, Now: o.Now, Position: o.Position})
	s.books = book.New(book.Options{
		Responder: s.reply, Book: fieldbook.Options{Now: o.Now}, Folder: o.Fieldbooks, Program: o.Program, Latest: s.announceBook,
	})
	s.packs = catalog.New(catalog.Options[*attachment]{Log: log, Now: o.Now, Attach: s.attach, Redact: errorLog.Redact})
	s.monitor = status.New(status.Options{
		Now: o.Now, Power: o.Power, Packs: s.packs, Tiles: s.tiles, Events: s.events,
		Responder: s.reply, Errors: errorLog, Clients: s.clients, Books: s.bookStatus,
	})
	s.listen.Auth.Page, s.listen.Auth.Log, s.listen.OnStop = o.Page, log, s.events.Close // a stream never ends by itself
	s.routes(page)
	if err := s.packs.Add(ctx, paths); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	s.announce()
	if o.Poll >= 0 {
		s.packs.Poll(cmp.Or(o.Poll, time.Second))
	}
	return s, nil
}

// How many tiles are rendered or cut at once for one session and for one address, so
// that others need not wait behind one phone, and how many more may wait. The
// project's own choice, no source.
const (
	rendersOfSession = 2
	rendersOfAddress = 4
	rendersWaiting   = 128
)

// announce announces which version of each pack is served, and the verdict on it, by
// the pack's ID; now and when one changes.
func (s *Server) announce() {
	versions := func() any {
		all := map[string]string{}
		for _, p := range s.Packs() {
			all[p.ID] = p.Version
		}
		return map[string]any{"packs": all}
	}
	type verdict struct {
		Version string `json:"version"`
		catalog.Verdict
	}
	verdicts := func() any {
		all := map[string]verdict{}
		for _, p := range s.Packs() {
			if p.Version != "" {
				all[p.ID] = verdict{p.Version, p.Checked()}
			}
		}
		return map[string]any{"verdicts": all}
	}
	both := func(catalog.PackState) {
		s.events.Announce("packs", versions)
		s.events.Announce("verdicts", verdicts)
	}
	both(catalog.PackState{})
	s.OnPack(both)
}

// bookStatus is how the field book of a pack is.
func (s *Server) bookStatus(pack string) *status.Book {
	state, ok := s.Book(pack)
	if !ok {
		return nil
	}
	return &status.Book{File: filepath.Base(state.Path), Marks: state.Marks, Photos: state.Photos, Trouble: state.Trouble}
}

// Book is how the field book of a pack is; ok is false where no pack has the ID.
func (s *Server) Book(pack string) (state book.State, ok bool) {
	return s.books.State(context.Background(), pack)
}

// announceBook announces the newest entry of the field book of a pack.
func (s *Server) announceBook(pack string, latest int64) {
	s.events.AnnounceOf("book "+pack, "book", func() any { return map[string]any{"pack": pack, "latest": latest} })
}

// Close drops the packs; requests that still run keep theirs until they end, which
// event streams do now.
func (s *Server) Close() error {
	s.events.Close()
	return errors.Join(s.packs.Close(), s.books.Close())
}

// Packs describes the packs as of the latest scan.
func (s *Server) Packs() []catalog.PackState { return s.packs.States() }

// OnPack has f called with the new state of each pack that changes; see
// [catalog.Catalog.OnChange].
func (s *Server) OnPack(f func(catalog.PackState)) { s.packs.OnChange(f) }

// Scan looks once for packs that were replaced, are gone or are new; see
// [catalog.Catalog.Scan].
func (s *Server) Scan(ctx context.Context) { s.packs.Scan(ctx) }

// Check checks every version that is served, until ctx ends; see
// [catalog.Catalog.Check].
func (s *Server) Check(ctx context.Context) { s.packs.Check(ctx) }

// Listen lets people in on addr until ctx ends; see [listen.Serve]. ready gets the
// address as it came out, and the codes.
func (s *Server) Listen(ctx context.Context, addr string, ready func(listen.Access)) error {
	return listen.Serve(ctx, addr, s, s.listen, func(o listen.Access) {
		s.monitor.SetGuessing(o.Guessing)
		ready(o)
	})
}

// Phones is how many addresses asked for something lately; none of those that are not
// let in.
func (s *Server) Phones() int { return s.clients.Count() }

// Guessing describes codes that somebody guesses while [Server.Listen] runs; nil when
// nobody does.
func (s *Server) Guessing() *auth.Guessing { return s.monitor.Guessing() }

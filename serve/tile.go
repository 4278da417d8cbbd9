package serve

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"groundsheet/pack"
	"groundsheet/tiles"
)

// deepest is how far beyond its pack a map may be enlarged: the deepest zoom
// that TileJSON 3.0.0 knows.
const deepest = 30

// routesTiles adds the address of tiles to the mux. It is there for what
// [Server.quickTile] does not take: other methods, and addresses that are wrong.
func (s *Server) routesTiles() {
	s.mux.HandleFunc("GET /packs/{pack}/tiles/{z}/{x}/{file}", s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		t, ok := parsePlace(r.PathValue("z"), r.PathValue("x"), r.PathValue("file"))
		if !ok {
			http.Error(w, "no such tile: want tiles/ZOOM/COLUMN/ROW.FORMAT", http.StatusNotFound)
			return
		}
		s.sendTile(w, r, p, t)
	}))
}

// quickTile answers a request for a tile; it reports false, and has done
// nothing, when the request is for something else. Nearly all requests are for
// tiles, so they do not go through the mux.
func (s *Server) quickTile(w http.ResponseWriter, r *http.Request) bool {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	rest, ok := strings.CutPrefix(r.URL.Path, "/packs/")
	if !ok {
		return false
	}
	id, rest, _ := strings.Cut(rest, "/")
	rest, ok = strings.CutPrefix(rest, "tiles/")
	if !ok {
		return false
	}
	z, rest, _ := strings.Cut(rest, "/")
	x, file, _ := strings.Cut(rest, "/")
	t, ok := parsePlace(z, x, file)
	if !ok {
		return false
	}
	p, _ := s.racks.take(id)
	if p == nil {
		return false
	}
	defer p.release()
	h := w.Header()
	h["X-Content-Type-Options"], h["Cross-Origin-Resource-Policy"] = s.nosniff, s.near
	if p.sameVersion(w, r) {
		s.sendTile(w, r, p, t)
	}
	return true
}

// sendTile answers with a tile as it was packed, enlarged from the deepest
// packed tile over the same ground, or shrunk from the shallowest ones under it.
// Where the pack has nothing there, it answers 204: that is no error. p must be
// kept open by the caller.
func (s *Server) sendTile(w http.ResponseWriter, r *http.Request, p *site, t tiles.ID) {
	s.watch.tiles.Add(1)
	if p.unchanged(w, r, t) {
		return // known before anything is read or made
	}
	at := place{p.serial, t}
	a := s.hot.get(at)
	if a == nil {
		a = s.made.get(at)
	}
	if a == nil {
		var err error
		if a, err = s.findTile(r, p, t); err != nil {
			s.failTile(w, r, p, fmt.Errorf("tile %v: %w", t, err))
			return
		}
	}
	p.send(w, r, a)
}

// findTile reads a tile from the pack, or makes it.
func (s *Server) findTile(r *http.Request, p *site, t tiles.ID) (*answer, error) {
	if until := p.resting.Load(); until != 0 && s.now().UnixNano() < until {
		return nil, errResting
	}
	if int(t.Z) < p.pack.Info.Zooms.Min {
		return s.makeFor(r, p, t, s.shrink)
	}
	from, data, err := p.pack.Nearest(r.Context(), t)
	if err != nil {
		return nil, err
	}
	p.rested()
	switch {
	case data == nil:
		return &answer{}, nil
	case from != t:
		return s.makeFor(r, p, t, s.enlarge)
	}
	// Nothing but an image may come from here, whatever the file holds, and none
	// that is small to send and fills a phone's memory.
	picture, err := pictureOf(data)
	if err != nil {
		return nil, err
	}
	a := p.newAnswer(t, data, picture.Kind)
	s.hot.offer(place{p.serial, t}, a)
	return a, nil
}

// errResting says that the tiles of a pack are not read for a while, because
// reading them took too long.
var errResting = errors.New("its tiles took too long to read; they are tried again later")

// failTile answers for a tile that could not be read or made, and keeps in mind
// what it says about the pack.
func (s *Server) failTile(w http.ResponseWriter, r *http.Request, p *site, err error) {
	resting := errors.Is(err, errResting)
	switch {
	case r.Context().Err() != nil:
		return // the phone went away
	case pack.Endless(err):
		p.rest(s.now())
		s.log.Error("a pack is too slow", "path", p.pack.Path, "err", err)
	case !resting:
		p.health.Store(damaged)
		s.fail(w, r, err)
		return
	}
	s.watch.failed.Add(1)
	w.Header().Set("Retry-After", "5")
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, "the pack takes too long to read: try again in a moment, or run groundsheet check on it", http.StatusServiceUnavailable)
}

// parsePlace reads ZOOM, COLUMN and ROW.FORMAT; a format may be left out.
func parsePlace(z, x, file string) (t tiles.ID, ok bool) {
	y, _, _ := strings.Cut(file, ".")
	var n [3]uint32
	for i, text := range [3]string{z, x, y} {
		v, err := strconv.ParseUint(text, 10, 31)
		if err != nil {
			return t, false
		}
		n[i] = uint32(v)
	}
	t = tiles.ID{Z: n[0], X: n[1], Y: n[2]}
	return t, t.Z <= deepest && t.X < 1<<t.Z && t.Y < 1<<t.Z
}

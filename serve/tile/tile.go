// Package tile answers requests for the tiles of packs: as packed, enlarged beyond the
// deepest zoom, or shrunk above the shallowest.
package tile

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"html"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/vectorbase"
	"groundsheet/serve/auth"
	"groundsheet/serve/cache"
	"groundsheet/serve/document"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// Options of a [Server].
type Options struct {
	Responder *document.Responder
	Now       func() time.Time
	Memory    int                      // bytes of tiles that are cached; 0 = 24 MB, below 0 = none
	Limiter   *auth.ConcurrencyLimiter // of a phone's tiles that are rendered
	Rendering chan struct{}            // its capacity is how many tiles are rendered at once
}

// Server answers with tiles of any number of packs, and caches them.
type Server struct {
	Options
	Answered         atomic.Int64 // requests for tiles
	packed, rendered *cache.Cache[place, *response]
	sets             atomic.Uint64
}

// New makes a server without packs.
func New(o Options) *Server {
	memory := cmp.Or(o.Memory, 24<<20)
	size := func(a *response) int { return len(a.data) }
	return &Server{
		Options: o, packed: cache.New[place](memory*3/4, size).WithDoorkeeper(), rendered: cache.New[place](memory/4, size),
	}
}

// Cached is the number of cached tiles, and their bytes.
func (s *Server) Cached() (tiles, bytes int) {
	n, of := s.packed.Size()
	m, and := s.rendered.Size()
	return n + m, of + and
}

// place is a tile of one version of one pack.
type place struct {
	set  uint64
	tile tiles.ID
}

// Set is the tiles of one version of a pack.
type Set struct {
	document.Address
	server *Server
	file   *pack.Pack
	number uint64           // of all sets of the server
	vector *vectorbase.Base // nil for pictures

	shallowest int    // the zoom from which on tiles are shrunk
	query      string // of an address with this version in it
	condition
}

// Open gives the tiles of a pack.
func (s *Server) Open(at document.Address, file *pack.Pack) *Set {
	set := &Set{
		Address: at, server: s, file: file, number: s.sets.Add(1), shallowest: shallowest(file.Info),
		query: at.Query(),
	}
	if file.Vector() { // nothing is shrunk
		set.vector, set.shallowest = vectorbase.New(file), file.Info.Zooms.Min
	}
	return set
}

// Kind is the format in which tiles are sent: vector tiles are drawn into pictures.
func (s *Set) Kind() raster.Kind {
	if s.vector != nil {
		return raster.PNG
	}
	return raster.Kind(s.file.Info.Format)
}

// Deepest is the deepest zoom that is not merely enlarged.
func (s *Set) Deepest() int {
	if s.vector != nil {
		return min(s.file.Info.Zooms.Max+vectorbase.Deeper, maxZoom)
	}
	return s.file.Info.Zooms.Max
}

// Template is the path of a tile of this version, with {z}, {x} and {y} to be filled in.
func (s *Set) Template() string {
	return s.Path("tiles/{z}/{x}/{y}." + string(s.Kind()) + "?" + s.query)
}

// Shallowest is the zoom from which on tiles are shrunk, up to the shallowest of the pack.
func (s *Set) Shallowest() int { return s.shallowest }

// Close frees the cached tiles.
func (s *Set) Close() {
	for _, c := range []*cache.Cache[place, *response]{s.server.packed, s.server.rendered} {
		c.DeleteFunc(func(p place) bool { return p.set == s.number })
	}
}

// ServeTile answers with a tile. Where the pack has nothing it answers 204: that is no
// error. The caller keeps the pack open.
func (s *Set) ServeTile(w http.ResponseWriter, r *http.Request, t tiles.ID) {
	s.server.Answered.Add(1)
	if s.notModified(w, r, t) {
		return
	}
	at := place{s.number, t}
	a, ok := s.server.packed.Get(at)
	if !ok {
		if a, ok = s.server.rendered.Get(at); !ok {
			var err error
			if a, err = s.read(r, t); err != nil {
				s.fail(w, r, fmt.Errorf("tile %v: %w", t, err))
				return
			}
		}
	}
	s.send(w, r, a)
}

// read reads a tile from the pack, or renders it.
func (s *Set) read(r *http.Request, t tiles.ID) (*response, error) {
	if s.Pausing(s.server.Now()) {
		return nil, errPausing
	}
	if s.vector != nil {
		return s.render(r, t, func(ctx context.Context) (*response, error) { return s.draw(ctx, t) })
	}
	if int(t.Z) < s.file.Info.Zooms.Min {
		return s.render(r, t, func(ctx context.Context) (*response, error) { return s.shrink(ctx, t) })
	}
	from, data, err := s.file.Nearest(r.Context(), t)
	if err != nil {
		return nil, err
	}
	s.readable()
	switch {
	case data == nil:
		return &response{}, nil
	case from != t:
		return s.render(r, t, func(context.Context) (*response, error) { return s.enlarge(t, from, data) })
	}
	// Nothing but an image may leave here, whatever the file holds, and none that is
	// small to send and fills a phone's memory.
	picture, err := inspect(data)
	if err != nil {
		return nil, err
	}
	a := s.newResponse(t, data, picture.Kind)
	s.server.packed.Offer(place{s.number, t}, a)
	return a, nil
}

// fail answers for a tile that could not be read or rendered, and notes what that says
// about the pack.
func (s *Set) fail(w http.ResponseWriter, r *http.Request, err error) {
	switch {
	case r.Context().Err() != nil:
		return // the phone went away
	case pack.Endless(err):
		s.tooSlow(s.server.Now())
		s.server.Responder.Log.Error("a pack is too slow", "path", s.file.Path, "err", err)
	case !errors.Is(err, errPausing):
		s.damaged.Store(true)
		s.server.Responder.Fail(w, r, err)
		return
	}
	s.server.Responder.Failed.Add(1)
	document.Unavailable(w, "the pack takes too long to read: try again in a moment, or run groundsheet check on it")
}

// maxZoom is how deep a map may be enlarged: the deepest zoom of TileJSON 3.0.0.
const maxZoom = 30

// ParseAddress finds pack and tile in the path /packs/PACK/tiles/ZOOM/COLUMN/ROW.FORMAT;
// .FORMAT may be left out.
func ParseAddress(path string) (id string, t tiles.ID, ok bool) {
	rest, ok := strings.CutPrefix(path, "/packs/")
	if !ok {
		return "", t, false
	}
	id, rest, _ = strings.Cut(rest, "/")
	if rest, ok = strings.CutPrefix(rest, "tiles/"); !ok {
		return "", t, false
	}
	z, rest, _ := strings.Cut(rest, "/")
	x, file, _ := strings.Cut(rest, "/")
	t, ok = Parse(z, x, file)
	return id, t, ok
}

// Parse reads ZOOM, COLUMN and ROW.FORMAT; .FORMAT may be left out.
func Parse(z, x, file string) (t tiles.ID, ok bool) {
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
	return t, t.Z <= maxZoom && t.X < 1<<t.Z && t.Y < 1<<t.Z
}

// TileJSON describes the tiles (TileJSON 3.0.0). Their addresses are absolute, made of
// the host that the phone asked, and name the version, so that a phone never mixes two.
func (s *Set) TileJSON(w http.ResponseWriter, r *http.Request) {
	info := s.file.Info
	lon, lat := info.Bounds.Center()
	s.server.Responder.JSON(w, r, document.JSON, map[string]any{
		"tilejson":      "3.0.0",
		"tiles":         []string{document.Origin(r) + s.Template()},
		"vector_layers": []any{}, // the text asks it of vector tiles only, the schema of all
		"name":          info.Name,
		"description":   info.Description,
		"attribution":   html.EscapeString(info.About.Source.Attribution),
		"scheme":        "xyz",
		"minzoom":       info.Zooms.Min,
		"maxzoom":       s.Deepest(),
		"shrunk_zoom":   s.shallowest, // our own: from here to minzoom tiles are shrunk from those
		"bounds":        []float64{info.Bounds.West, info.Bounds.South, info.Bounds.East, info.Bounds.North},
		"center":        []any{lon, lat, info.Zooms.Max},
	})
}

// maxSide is the side of the largest tile that is served, in pixels.
const maxSide = 1024

// inspect says what image a packed tile is, if it is one, and no larger than any tile
// is. Damage within is found by check, which reads all of a pack while it is served.
func inspect(data []byte) (raster.Picture, error) {
	picture, err := raster.Glance(data)
	if err == nil && (picture.Width > maxSide || picture.Height > maxSide) {
		err = fmt.Errorf("an image of %d×%d pixels is no tile", picture.Width, picture.Height)
	}
	return picture, err
}

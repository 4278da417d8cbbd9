// Package overlay answers with the overlays of packs: small ones as GeoJSON documents,
// large ones also as vector tiles with their records by place and by number.
package overlay

import (
	"context"
	"encoding/json"
	"net/http"
	"runtime/debug"
	"sync"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/serve/auth"
	"groundsheet/serve/cache"
	"groundsheet/serve/document"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
)

// An overlay is large from this many features, bytes or positions on: then a phone gets
// vector tiles of what it shows, and not the whole. A thousand readings are about
// 300 KB, drawn by a cheap phone in a few hundredths of a second.
const (
	largeFeatures  = 1000
	largeBytes     = 1 << 20
	largePositions = 5000 // of a few lines with very many corners
)

// Options of a [Server].
type Options struct {
	Responder *document.Responder
	Limiter   *auth.ConcurrencyLimiter // of a phone's tiles that are cut
	Cutting   chan struct{}            // its capacity is how many tiles are cut at once
	Searching int                      // how many searches by place run at once
}

// Server answers with the overlays of any number of packs.
type Server struct {
	Options
	searching chan struct{}
	searches  *auth.ConcurrencyLimiter // of a phone
}

// New makes a server without packs.
func New(o Options) *Server {
	return &Server{
		Options: o, searching: make(chan struct{}, o.Searching),
		searches: auth.NewLimiter(searchesOfSession, searchesOfAddress, searchesWaiting, searchWait),
	}
}

// Set is the overlays of one version of a pack.
type Set struct {
	document.Address
	file    *pack.Pack
	large   map[string]*largeOverlay // by ID
	cancel  context.CancelFunc
	indexes sync.WaitGroup // of the goroutine that makes the indexes
}

// largeOverlay is an overlay that is served as vector tiles. Its index is made when it
// is first asked for.
type largeOverlay struct {
	derived   bool   // searches give what a place lies in, without shapes
	words     string // of the record as a whole, folded
	makeIndex func() (*vectortile.Index, error)
	index     cache.Once[*vectortile.Index]
	cut       *cache.Cache[tiles.ID, document.Asset]
}

// Index is the index of the overlay.
func (l *largeOverlay) Index() (*vectortile.Index, error) { return l.index.Get(l.makeIndex) }

// indexOf gives the index of an overlay; when there is none, it answers and gives nil.
func (s *Server) indexOf(w http.ResponseWriter, r *http.Request, l *largeOverlay) *vectortile.Index {
	x, err := l.Index()
	if err != nil {
		s.Responder.Fail(w, r, err)
		return nil
	}
	return x
}

// cutBytes is how many bytes of cut tiles an overlay keeps: phones of one crew look at
// the same places.
const cutBytes = 10 << 20

// addLarge adds an overlay that is served as vector tiles; ctx ends the indexing.
func (s *Set) addLarge(ctx context.Context, id string, read func() ([]byte, error),
	o vectortile.Options) *largeOverlay {
	l := &largeOverlay{cut: cache.New[tiles.ID](cutBytes, document.Asset.Size)}
	l.makeIndex = func() (*vectortile.Index, error) {
		body, err := read()
		if err != nil {
			return nil, err
		}
		return vectortile.New(ctx, body, o)
	}
	s.large[id] = l
	return l
}

// sizeTime is how long the sizes of all overlays may take: other packs wait to be
// opened meanwhile. Sizes are in the rows of a table, whatever a hostile view does.
const sizeTime = 2 * time.Second

// styling are the properties that decide how a feature is drawn.
var styling = vectortile.Options{Carry: []string{"depth_m", "quality_level", record.StateProperty, record.KindProperty}}

// Open gives the overlays of a pack, adds their documents to docs, and begins to index
// large ones. An overlay whose size cannot be read counts as small: reading it then
// says what is wrong.
func (s *Server) Open(docs *document.Set, file *pack.Pack) *Set {
	ctx, cancel := context.WithCancel(context.Background()) // until Close: readers share what is read
	set := &Set{Address: docs.Address, file: file, large: map[string]*largeOverlay{}, cancel: cancel}
	reader := func(read func(context.Context) ([]byte, error)) func() ([]byte, error) {
		return func() ([]byte, error) { return docs.Read(ctx, read) }
	}
	docs.Add("overlays.json", document.JSON, func() ([]byte, error) { return json.Marshal(set.list()) })
	soon, done := context.WithTimeout(ctx, sizeTime)
	defer done()
	for _, o := range file.Info.Overlays {
		read := reader(func(ctx context.Context) ([]byte, error) { return file.OverlayGeoJSON(ctx, o.ID) })
		size, err := file.OverlaySize(soon, o.ID)
		if o.Features >= largeFeatures || err == nil && (size.Bytes >= largeBytes || size.Positions >= largePositions) {
			set.addLarge(ctx, o.ID, read, styling).words = wordsOf(o)
			docs.AddLarge(geoJSONPath(o.ID), read)
			docs.AddPart(set.part(o.ID, geoJSONPath(o.ID)))
		} else {
			docs.AddGeoJSON(geoJSONPath(o.ID), read)
		}
	}
	size, err := file.DerivedSize(soon)
	set.addDerived(ctx, docs, reader(file.DerivedFeatures), err == nil && size >= largeBytes)
	if len(set.large) > 0 {
		set.indexes.Go(func() { set.makeIndexes(ctx) })
	}
	return set
}

// makeIndexes indexes the large overlays before the first phone asks: a hundred
// thousand readings take a second or more. A phone that asks gets the error, if any.
func (s *Set) makeIndexes(ctx context.Context) {
	for _, l := range s.large {
		if ctx.Err() != nil {
			return
		}
		_, _ = l.Index()
	}
	debug.FreeOSMemory() // reading took several times what is kept
}

// Close ends the indexing.
func (s *Set) Close() {
	s.cancel()
	s.indexes.Wait()
}

func geoJSONPath(id string) string { return "overlays/" + id + ".geojson" }

// Places where a large overlay is found.
func (s *Set) tileJSONPath(id string) string { return s.Path("overlays/" + id + "/tilejson.json") }
func (s *Set) tilesPath(id string) string {
	return s.Path("overlays/" + id + "/tiles/{z}/{x}/{y}.mvt?" + s.Query())
}
func (s *Set) searchPath(id string) string {
	return s.Path("overlays/" + id + "/features?" + s.Query())
}

// part names a large overlay, whose features, or those of some parts, a document holds whole.
func (s *Set) part(id, whole string, parts ...string) document.Part {
	return document.Part{
		TileJSON: s.tileJSONPath(id), Tiles: s.tilesPath(id), Near: s.searchPath(id), Whole: s.Path(whole), Parts: parts,
	}
}

// list is the document that lists the overlays, and how their features are drawn.
func (s *Set) list() any {
	type entry struct {
		pack.Summary
		URL      string `json:"url"`
		TileJSON string `json:"tilejson,omitempty"` // of vector tiles, when the overlay is large
		Near     string `json:"near,omitempty"`     // where its records are searched for by place, then
	}
	all := []entry{}
	styles := map[string]map[string]record.Symbology{} // by utility and quality level; "" = every level but A to D
	for _, o := range s.file.Info.Overlays {
		e := entry{Summary: o, URL: s.Path(geoJSONPath(o.ID))}
		if s.large[o.ID] != nil {
			e.TileJSON, e.Near = s.tileJSONPath(o.ID), s.searchPath(o.ID)
		}
		all = append(all, e)
		styles[o.Utility] = nil // also of a code that is not known
	}
	type utility struct {
		Code   string `json:"utility"`
		Name   string `json:"utility_name"`
		Letter string `json:"letter"`
		Color  string `json:"colour"`
		Casing string `json:"casing"`
	}
	var utilities []utility // all of them: marks may be of any
	for _, u := range record.Utilities() {
		utilities = append(utilities, utility(u))
		styles[u.Code] = nil
	}
	for code := range styles {
		styles[code] = map[string]record.Symbology{}
		for _, level := range []string{"", "A", "B", "C", "D"} {
			styles[code][level] = record.SymbologyOf(code, level)
		}
	}
	return map[string]any{"overlays": all, "styles": styles, "states": record.StateSymbologies(), "utilities": utilities}
}

// Handler answers a request for a large overlay of an open pack.
type Handler func(http.ResponseWriter, *http.Request, *Set)

// Routes are the patterns of large overlays.
func (s *Server) Routes() map[string]Handler {
	const overlay = "GET /packs/{pack}/overlays/{id}/"
	return map[string]Handler{
		overlay + "tilejson.json":        s.large(s.tileJSON),
		overlay + "tiles/{z}/{x}/{file}": s.large(s.tile),
		overlay + "features":             s.large(s.features),
		overlay + "features/{n}":         s.large(s.record),
	}
}

// large finds the large overlay that a request names.
func (s *Server) large(handle func(http.ResponseWriter, *http.Request, *Set, *largeOverlay)) Handler {
	return func(w http.ResponseWriter, r *http.Request, set *Set) {
		l := set.large[r.PathValue("id")]
		if l == nil {
			http.Error(w, "there is no such overlay in this pack, or it is small and comes whole", http.StatusNotFound)
			return
		}
		handle(w, r, set, l)
	}
}

package serve

import (
	"context"
	"fmt"
	"net/http"
	"runtime/debug"
	"strconv"
	"sync"
	"time"

	"groundsheet/pack/record"
	"groundsheet/serve/auth"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles"
)

// An overlay is large from this many features, bytes or positions on: then a phone gets
// vector tiles of what it looks at, and not the whole. A thousand readings are
// about 300 KB, drawn by a cheap phone in a few hundredths of a second.
const (
	largeFeatures  = 1000
	largeBytes     = 1 << 20
	largePositions = 5000 // of a few lines with very many corners
)

// large is a large overlay: its index, made when first asked for, and the
// tiles that were cut lately.
type large struct {
	text    func() ([]byte, error)
	cutting vectortile.Options
	tiles   recent
	words   bool // answers by place are words alone: what the place lies in, without shapes

	read once[*vectortile.Index]
}

// sizeTime is how long the sizes of all overlays may take: other packs wait to be
// opened meanwhile. Sizes stand in the rows of a table, whatever a hostile view does.
const sizeTime = 2 * time.Second

// carried are the properties that decide how a feature looks.
var carried = vectortile.Options{Carry: []string{"depth_m", "quality_level", record.StateProperty, record.KindProperty}}

// largeOnes finds the large overlays of a pack. One whose size cannot be read
// comes whole: reading it then tells what is wrong.
func (p *site) largeOnes() {
	p.large = map[string]*large{}
	ctx, cancel := context.WithTimeout(context.Background(), sizeTime)
	defer cancel()
	for _, o := range p.pack.Info.Overlays {
		size, err := p.pack.OverlaySize(ctx, o.ID)
		if o.Features >= largeFeatures || err == nil && (size.Bytes >= largeBytes || size.Positions >= largePositions) {
			text := func() ([]byte, error) {
				return p.read(func(ctx context.Context) ([]byte, error) { return p.pack.Overlay(ctx, o.ID) })
			}
			p.large[o.ID] = newLarge(text, carried)
			p.docs[overlayPath(o.ID)] = pressed(text)
		}
	}
	p.largeKnown(ctx)
	if len(p.large) > 0 {
		p.users.Add(1)
		go p.readLarge()
	}
}

// readLarge reads the large overlays before the first phone asks: a hundred
// thousand readings take a second or more. What goes wrong is told to the
// phone that asks.
func (p *site) readLarge() {
	defer p.release()
	for _, l := range p.large {
		_, _ = l.index()
	}
	debug.FreeOSMemory() // reading took several times what is kept
}

func newLarge(text func() ([]byte, error), o vectortile.Options) *large {
	return &large{text: text, cutting: o, tiles: newRecent()}
}

// index reads the overlay when it is first asked for.
func (l *large) index() (*vectortile.Index, error) {
	return l.read.get(func() (*vectortile.Index, error) {
		body, err := l.text()
		if err != nil {
			return nil, err
		}
		return vectortile.New(body, l.cutting)
	})
}

func (s *Server) routesLarge() {
	const overlay = "GET /packs/{pack}/overlays/{id}/"
	s.mux.HandleFunc(overlay+"tilejson.json", s.withLarge(s.largeTileJSON))
	s.mux.HandleFunc(overlay+"tiles/{z}/{x}/{file}", s.withLarge(s.largeTile))
	s.mux.HandleFunc(overlay+"features", s.withLarge(s.featuresNear))
	s.mux.HandleFunc(overlay+"features/{n}", s.withLarge(s.oneFeature))
}

// withLarge finds the large overlay named in the address.
func (s *Server) withLarge(handle func(http.ResponseWriter, *http.Request, *site, *large)) http.HandlerFunc {
	return s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		l := p.large[r.PathValue("id")]
		if l == nil {
			http.Error(w, "there is no such overlay in this pack, or it is small and comes whole", http.StatusNotFound)
			return
		}
		handle(w, r, p, l)
	})
}

func largePath(id, rest string) string { return "overlays/" + id + "/" + rest }

// largeTileJSON describes the vector tiles (TileJSON 3.0.0), and what the page
// tells of an overlay that it does not hold itself. Its zooms are those of
// tiles of 512 pixels.
func (s *Server) largeTileJSON(w http.ResponseWriter, r *http.Request, p *site, l *large) {
	x, err := l.index()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	id, c := r.PathValue("id"), x.Content()
	var layers []any
	for _, name := range []string{vectortile.LayerRecords, vectortile.LayerFaces, vectortile.LayerEdges} {
		layers = append(layers, map[string]any{"id": name, "minzoom": 0, "maxzoom": vectortile.DeepestZoom, "fields": map[string]string{
			"depth_m": "meters", "quality_level": "ASCE 38, or the record's own words",
			record.StateProperty: "state of the line as understood", record.KindProperty: "test hole, or nothing", vectortile.MoreProperty: "how many others it stands for",
		}})
	}
	levels := c.Levels
	if levels == nil {
		levels = []string{}
	}
	s.json(w, r, map[string]any{
		"tilejson": "3.0.0", "scheme": "xyz", "name": id, "vector_layers": layers,
		"tiles":   []string{originOf(r) + p.path(largePath(id, "tiles/{z}/{x}/{y}.mvt?v="+p.tag))},
		"minzoom": 0, "maxzoom": vectortile.DeepestZoom, "exact_zoom": vectortile.ExactZoom, "tile_size": vectortile.TileSize,
		"bounds":   []float64{c.Box.West, c.Box.South, c.Box.East, c.Box.North},
		"features": c.Features, "not_drawn": c.NotDrawn, "points": c.Points, "levels": levels,
	})
}

func (s *Server) largeTile(w http.ResponseWriter, r *http.Request, p *site, l *large) {
	t, ok := parsePlace(r.PathValue("z"), r.PathValue("x"), r.PathValue("file"))
	if !ok || t.Z > vectortile.DeepestZoom {
		http.Error(w, fmt.Sprintf("no such tile: want tiles/ZOOM/COLUMN/ROW.mvt, zooms to %d", vectortile.DeepestZoom), http.StatusNotFound)
		return
	}
	x, err := l.index()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	done, ok := s.makingOf.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		s.later(w, "too many tiles are being cut for this phone: try again in a moment")
		return
	}
	a, err := l.tiles.get(t, func() (asset, error) {
		body, err := x.Tile(t)
		return newAsset(vectortile.MediaType, body), err
	})
	done()
	switch {
	case err != nil:
		s.fail(w, r, err)
	case len(a.plain) == 0:
		w.WriteHeader(http.StatusNoContent)
	default:
		if r.URL.Query().Get("v") == p.tag { // the address changes with the pack
			a.keep = keepTile
		}
		a.serve(w, r)
	}
}

// oneFeature gives a record by the id that tiles carry, as it was packed.
func (s *Server) oneFeature(w http.ResponseWriter, r *http.Request, _ *site, l *large) {
	n, err := strconv.ParseUint(r.PathValue("n"), 10, 31)
	if err != nil {
		http.Error(w, "want features/NUMBER, counted from 0", http.StatusNotFound)
		return
	}
	x, err := l.index()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	record, err := x.Record(int(n))
	switch {
	case err != nil:
		s.fail(w, r, err)
	case record == nil:
		http.Error(w, "there is no such feature in this overlay", http.StatusNotFound)
	default:
		newAsset(mediaGeoJSON, record).serve(w, r)
	}
}

// recent keeps the tiles that were asked for lately, and lets one ask make
// what several wait for. Phones of one crew look at the same places.
type recent struct {
	mu         sync.Mutex
	young, old map[tiles.ID]func() (asset, error)
	busy       chan struct{} // one place for each tile that is being cut
}

// mostRecent is how many tiles are kept, twice: at most 2 × 256 of some 20 KB.
const mostRecent = 256

func newRecent() recent {
	return recent{young: map[tiles.ID]func() (asset, error){}, busy: make(chan struct{}, cores)}
}

func (c *recent) get(t tiles.ID, make func() (asset, error)) (asset, error) {
	c.mu.Lock()
	one, met := c.young[t]
	if !met {
		if one, met = c.old[t]; !met {
			one = sync.OnceValues(func() (asset, error) {
				c.busy <- struct{}{}
				defer func() { <-c.busy }()
				return make()
			})
		}
		if len(c.young) >= mostRecent {
			c.young, c.old = map[tiles.ID]func() (asset, error){}, c.young
		}
		c.young[t] = one
	}
	c.mu.Unlock()
	return one()
}

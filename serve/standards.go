package serve

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/serve/standard"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

// routesStandards adds what other map programs on the hotspot ask for. page is
// what stands at the root for people.
func (s *Server) routesStandards(page http.Handler) {
	const document = standard.DocumentPath
	s.mux.HandleFunc("GET /{$}", s.root(page))
	s.mux.HandleFunc("GET /wmts", s.withAll(s.wmts("/wmts")))
	s.mux.HandleFunc("GET /wmts"+document, s.withAll(s.wmtsDocument("/wmts")))
	s.mux.HandleFunc("GET /packs/{pack}/wmts", s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		s.wmts(p.path("wmts"))(w, r, []*site{p})
	}))
	s.mux.HandleFunc("GET /packs/{pack}/wmts"+document, s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		s.wmtsDocument(p.path("wmts"))(w, r, []*site{p})
	}))
	s.ogc("/conformance", standard.Site.Conformance)
	s.ogc("/collections", standard.Site.Collections)
	s.ogc("/tileMatrixSets", standard.Site.MatrixSets)
	s.ogcOf("/collections/{pack}", standard.Site.Collection)
	s.ogcOf("/collections/{pack}/map/tiles", standard.Site.Tilesets)
	s.mux.HandleFunc("GET /collections/{pack}/map/tiles/{set}", s.with(s.tileset))
	s.mux.HandleFunc("GET /collections/{pack}/map/tiles/{set}/{matrix}/{row}/{col}", s.with(s.ogcTile))
	s.mux.HandleFunc("GET /tileMatrixSets/{set}", s.withAll(s.matrixSet))
	s.mux.HandleFunc("GET /api", s.withAll(func(w http.ResponseWriter, r *http.Request, packs []*site) {
		s.jsonAs(w, r, standard.MediaAPI, s.siteOf(r, packs).API())
	}))
}

type withPacks func(http.ResponseWriter, *http.Request, []*site)

// withAll keeps all packs open for the request. One that is being exchanged at
// this moment is left out.
func (s *Server) withAll(handle withPacks) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var packs []*site
		for _, l := range s.racks.slots.Load().all {
			if p := l.take(); p != nil {
				defer p.release()
				packs = append(packs, p)
			}
		}
		handle(w, r, packs)
	}
}

// siteOf describes packs to whoever asks. Addresses are absolute: they are made
// of the host that was asked.
func (s *Server) siteOf(r *http.Request, packs []*site) standard.Site {
	out := standard.Site{Base: originOf(r), Title: words.Say("packfile.site_packs")}
	for _, p := range packs {
		out.Layers = append(out.Layers, p.layer())
	}
	if len(packs) == 1 {
		out.Title = out.Layers[0].Title
	}
	return out
}

func (p *site) layer() standard.Layer {
	info := p.pack.Info
	picture := info.About.Source
	about := []string{pack.Cautions(info.About)[0], words.Say("packfile.picture", "when", cmp.Or(picture.Captured, words.Say("paper.unknown"))), picture.Attribution}
	return standard.Layer{
		ID: p.id, Title: info.Name, About: strings.TrimSpace(strings.Join(about, " ")), Credit: picture.Attribution,
		Media: raster.Kind(info.Format).MediaType(), TileSize: info.About.TileSize, Bounds: info.Bounds, Limits: p.pack.Limits(),
		Tiles: p.path("tiles/{z}/{x}/{y}." + info.Format), Version: p.tag,
	}
}

// root gives the map page, and to programs that ask for JSON the landing page
// of OGC API (OGC 19-072, 7.2).
func (s *Server) root(page http.Handler) http.HandlerFunc {
	landing := s.withAll(func(w http.ResponseWriter, r *http.Request, packs []*site) {
		s.json(w, r, s.siteOf(r, packs).Landing())
	})
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept")
		if f := r.URL.Query().Get("f"); f == "json" || f == "" && prefersJSON(r.Header.Get("Accept")) {
			landing(w, r)
			return
		}
		page.ServeHTTP(w, r)
	}
}

// prefersJSON is true of programs that name JSON and not HTML: browsers name
// HTML always.
func prefersJSON(accept string) bool {
	return strings.Contains(accept, mediaJSON) && !strings.Contains(accept, "text/html")
}

// wmts answers questions in names and values.
func (s *Server) wmts(path string) withPacks {
	return func(w http.ResponseWriter, r *http.Request, packs []*site) {
		q, err := s.siteOf(r, packs).Ask(r.URL.Query())
		if refusal := standard.Refusal(nil); errors.As(err, &refusal) {
			s.refuse(w, r, refusal)
			return
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if q.Capabilities {
			s.wmtsDocument(path)(w, r, packs)
			return
		}
		i := slices.IndexFunc(packs, func(p *site) bool { return p.id == q.Layer.ID })
		s.sendTile(w, r, packs[i], q.Tile)
	}
}

func (s *Server) refuse(w http.ResponseWriter, r *http.Request, refusal standard.Refusal) {
	body, err := refusal.XML()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", mediaXML)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(refusal.Status())
	_, _ = w.Write(body) // the client went away: nobody is left to tell
}

const mediaXML = "application/xml"

func (s *Server) wmtsDocument(path string) withPacks {
	return func(w http.ResponseWriter, r *http.Request, packs []*site) {
		body, err := s.siteOf(r, packs).WMTS(path)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		newAsset(mediaXML, body).serve(w, r)
	}
}

// ogc adds a document of OGC API - Tiles.
func (s *Server) ogc(path string, document func(standard.Site) any) {
	s.mux.HandleFunc("GET "+path, s.withAll(func(w http.ResponseWriter, r *http.Request, packs []*site) {
		s.json(w, r, document(s.siteOf(r, packs)))
	}))
}

// ogcOf adds one that is about a pack.
func (s *Server) ogcOf(path string, document func(standard.Site, standard.Layer) any) {
	s.mux.HandleFunc("GET "+path, s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		o := s.siteOf(r, []*site{p})
		s.json(w, r, document(o, o.Layers[0]))
	}))
}

func (s *Server) tileset(w http.ResponseWriter, r *http.Request, p *site) {
	o := s.siteOf(r, []*site{p})
	if r.PathValue("set") != o.Layers[0].SetID() {
		http.Error(w, "this map has no tiles of such a tile matrix set", http.StatusNotFound)
		return
	}
	s.json(w, r, o.Tileset(o.Layers[0]))
}

func (s *Server) matrixSet(w http.ResponseWriter, r *http.Request, packs []*site) {
	set, ok := s.siteOf(r, packs).MatrixSet(r.PathValue("set"))
	if !ok {
		http.Error(w, "no map here has tiles of such a tile matrix set", http.StatusNotFound)
		return
	}
	s.json(w, r, set)
}

func (s *Server) ogcTile(w http.ResponseWriter, r *http.Request, p *site) {
	t, err := p.layer().At(r.PathValue("set"), r.PathValue("matrix"), r.PathValue("row"), r.PathValue("col"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	s.sendTile(w, r, p, t)
}

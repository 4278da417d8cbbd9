package serve

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"groundsheet/pack"
	"groundsheet/serve/standards"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// routesStandards adds what other map programs on the hotspot ask for. page is
// what stands at the root for people.
func (s *Server) routesStandards(page http.Handler) {
	s.mux.HandleFunc("GET /{$}", s.root(page))
	const document = standards.DocumentPath
	s.mux.HandleFunc("GET /wmts", func(w http.ResponseWriter, r *http.Request) { s.wmts(w, r, "/wmts", s.packs) })
	s.mux.HandleFunc("GET /wmts"+document, func(w http.ResponseWriter, r *http.Request) { s.wmtsDocument(w, r, "/wmts", s.packs) })
	s.mux.HandleFunc("GET /packs/{pack}/wmts", s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		s.wmts(w, r, p.path("wmts"), []*site{p})
	}))
	s.mux.HandleFunc("GET /packs/{pack}/wmts"+document, s.with(func(w http.ResponseWriter, r *http.Request, p *site) {
		s.wmtsDocument(w, r, p.path("wmts"), []*site{p})
	}))
	s.ogc("/conformance", standards.Site.Conformance)
	s.ogc("/collections", standards.Site.Collections)
	s.ogc("/tileMatrixSets", standards.Site.MatrixSets)
	s.ogcOf("/collections/{pack}", standards.Site.Collection)
	s.ogcOf("/collections/{pack}/map/tiles", standards.Site.Tilesets)
	s.mux.HandleFunc("GET /collections/{pack}/map/tiles/{set}", s.with(s.tileset))
	s.mux.HandleFunc("GET /collections/{pack}/map/tiles/{set}/{matrix}/{row}/{col}", s.with(s.ogcTile))
	s.mux.HandleFunc("GET /tileMatrixSets/{set}", s.matrixSet)
	s.mux.HandleFunc("GET /api", func(w http.ResponseWriter, r *http.Request) {
		s.jsonAs(w, r, standards.MediaAPI, s.siteOf(r, s.packs).API())
	})
}

// siteOf describes packs to whoever asks. Addresses are absolute: they are made
// of the host that was asked.
func (s *Server) siteOf(r *http.Request, packs []*site) standards.Site {
	out := standards.Site{Base: base(r), Title: "Site packs"}
	for _, p := range packs {
		out.Layers = append(out.Layers, p.layer())
	}
	if len(packs) == 1 {
		out.Title = out.Layers[0].Title
	}
	return out
}

// base is the address that was asked, without a path.
func base(r *http.Request) string {
	scheme := "http"
	if r.TLS != nil {
		scheme = "https"
	}
	return scheme + "://" + r.Host
}

func (p *site) layer() standards.Layer {
	info := p.pack.Info
	picture := info.About.Source
	about := []string{pack.Cautions(info.About)[0], "Picture taken: " + known(picture.Captured) + ".", picture.Attribution}
	return standards.Layer{
		ID: p.id, Title: info.Name, About: strings.TrimSpace(strings.Join(about, " ")), Credit: picture.Attribution,
		Media: raster.Kind(info.Format).MediaType(), TileSize: info.About.TileSize, Bounds: info.Bounds, Limits: p.pack.Limits(),
		Tiles: p.path("tiles/{z}/{x}/{y}." + info.Format), Version: p.tag,
	}
}

func known(text string) string {
	if text == "" {
		return "unknown"
	}
	return text
}

// root gives the map page, and to programs that ask for JSON the landing page
// of OGC API (OGC 19-072, 7.2).
func (s *Server) root(page http.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept")
		if f := r.URL.Query().Get("f"); f == "json" || f == "" && prefersJSON(r.Header.Get("Accept")) {
			s.jsonAs(w, r, mediaJSON, s.siteOf(r, s.packs).Landing())
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
func (s *Server) wmts(w http.ResponseWriter, r *http.Request, path string, packs []*site) {
	q, err := s.siteOf(r, packs).Ask(r.URL.Query())
	if refusal := standards.Refusal(nil); errors.As(err, &refusal) {
		s.refuse(w, r, refusal)
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if q.Capabilities {
		s.wmtsDocument(w, r, path, packs)
		return
	}
	for _, p := range packs {
		if p.id == q.Layer.ID {
			s.tileAt(w, r, p, q.Tile)
			return
		}
	}
}

func (s *Server) refuse(w http.ResponseWriter, r *http.Request, refusal standards.Refusal) {
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

func (s *Server) wmtsDocument(w http.ResponseWriter, r *http.Request, path string, packs []*site) {
	body, err := s.siteOf(r, packs).WMTS(path)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	newAsset(mediaXML, body).serve(w, r)
}

// ogc adds a document of OGC API - Tiles.
func (s *Server) ogc(path string, document func(standards.Site) any) {
	s.mux.HandleFunc("GET "+path, func(w http.ResponseWriter, r *http.Request) { s.json(w, r, document(s.siteOf(r, s.packs))) })
}

// ogcOf adds one that is about a pack.
func (s *Server) ogcOf(path string, document func(standards.Site, standards.Layer) any) {
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

func (s *Server) matrixSet(w http.ResponseWriter, r *http.Request) {
	set, ok := s.siteOf(r, s.packs).MatrixSet(r.PathValue("set"))
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
	s.tileAt(w, r, p, t)
}

// tileAt answers as the tile's own address does.
func (s *Server) tileAt(w http.ResponseWriter, r *http.Request, p *site, t tiles.ID) {
	r.SetPathValue("z", fmt.Sprint(t.Z))
	r.SetPathValue("x", fmt.Sprint(t.X))
	r.SetPathValue("file", fmt.Sprint(t.Y))
	s.tile(w, r, p)
}

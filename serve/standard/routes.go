package standard

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strings"

	"groundsheet/pack"
	"groundsheet/serve/document"
	"groundsheet/serve/tile"
	"groundsheet/tiles/words"
)

// Pack is an open pack as this package serves it.
type Pack struct {
	document.Address
	File  *pack.Pack
	Tiles *tile.Set
}

func (p Pack) layer() layer {
	info := p.File.Info
	source := info.About.Source
	captured := words.Say("packfile.picture", "when", cmp.Or(source.Captured, words.Say("paper.unknown")))
	about := []string{pack.Cautions(info.About)[0], captured, source.Attribution}
	return layer{
		ID: p.ID, Title: info.Name, About: strings.TrimSpace(strings.Join(about, " ")), Credit: source.Attribution,
		Media: p.Tiles.Kind().MediaType(), TileSize: info.About.TileSize, Bounds: info.Bounds,
		Limits: p.File.Limits(),
		Tiles:  p.Path("tiles/{z}/{x}/{y}." + string(p.Tiles.Kind())), Version: p.Version,
	}
}

// capabilitiesPath is where the capabilities are, below the path of a WMTS service.
const capabilitiesPath = "/1.0.0/WMTSCapabilities.xml"

// Handler answers a request about packs, which the caller keeps open.
type Handler func(http.ResponseWriter, *http.Request, []Pack)

// handlers answers by way of a responder.
type handlers struct{ *document.Responder }

// Routes are the patterns for other map programs on the hotspot. A handler gets all
// packs, or the one that its pattern names as {pack}. page is what people see at the
// root.
func Routes(to *document.Responder, page Handler) map[string]Handler {
	h := handlers{to}
	all := map[string]Handler{
		"GET /{$}":                  h.root(page),
		"GET /api":                  h.document(mediaAPI, api),
		"GET /conformance":          h.document(document.JSON, conformance),
		"GET /collections":          h.document(document.JSON, collections),
		"GET /tileMatrixSets":       h.document(document.JSON, matrixSets),
		"GET /tileMatrixSets/{set}": h.matrixSet,
		"GET /collections/{pack}":   h.layerDocument(collection),
	}
	const tiles = "GET /collections/{pack}/map/tiles"
	all[tiles] = h.layerDocument(tilesets)
	all[tiles+"/{set}"] = h.tileset
	all[tiles+"/{set}/{matrix}/{row}/{col}"] = h.tile
	for _, base := range []string{"", "/packs/{pack}"} {
		all["GET "+base+"/wmts"] = h.wmts
		all["GET "+base+"/wmts"+capabilitiesPath] = h.capabilities
	}
	return all
}

// serviceOf describes packs. Addresses are absolute: they are made of the host that the
// client asked.
func serviceOf(r *http.Request, packs []Pack) service {
	s := service{Base: document.Origin(r), Title: words.Say("packfile.site_packs")}
	for _, p := range packs {
		s.Layers = append(s.Layers, p.layer())
	}
	if len(packs) == 1 {
		s.Title = s.Layers[0].Title
	}
	return s
}

// root gives the map page, and to programs that ask for JSON the landing page of OGC
// API (OGC 19-072, 7.2). Browsers name HTML always.
func (h handlers) root(page Handler) Handler {
	landing := h.document(document.JSON, landing)
	return func(w http.ResponseWriter, r *http.Request, packs []Pack) {
		w.Header().Add("Vary", "Accept")
		accept := r.Header.Get("Accept")
		json := strings.Contains(accept, document.JSON) && !strings.Contains(accept, "text/html")
		if f := r.URL.Query().Get("f"); f == "json" || f == "" && json {
			landing(w, r, packs)
			return
		}
		page(w, r, packs)
	}
}

func (h handlers) document(media, name string) Handler {
	return func(w http.ResponseWriter, r *http.Request, packs []Pack) {
		h.JSON(w, r, media, serviceOf(r, packs).Document(name))
	}
}

// layerDocument answers with a document about the one layer.
func (h handlers) layerDocument(name string) Handler {
	return func(w http.ResponseWriter, r *http.Request, packs []Pack) {
		s := serviceOf(r, packs)
		h.JSON(w, r, document.JSON, s.LayerDocument(name, s.Layers[0]))
	}
}

// wmts answers a request in names and values.
func (h handlers) wmts(w http.ResponseWriter, r *http.Request, packs []Pack) {
	q, err := serviceOf(r, packs).Parse(r.URL.Query())
	var report exceptionReport
	switch {
	case errors.As(err, &report):
		h.report(w, r, report)
	case err != nil:
		h.Fail(w, r, err)
	case q.Capabilities:
		h.capabilities(w, r, packs)
	default:
		i := slices.IndexFunc(packs, func(p Pack) bool { return p.ID == q.Layer.ID })
		packs[i].Tiles.ServeTile(w, r, q.Tile)
	}
}

func (h handlers) report(w http.ResponseWriter, r *http.Request, report exceptionReport) {
	body, err := report.XML()
	if err != nil {
		h.Fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", mediaXML)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(report.Status())
	_, _ = w.Write(body) // the client went away: nobody is left to be answered
}

const (
	mediaXML = "application/xml"
	mediaAPI = "application/vnd.oai.openapi+json;version=3.0"
)

func (h handlers) capabilities(w http.ResponseWriter, r *http.Request, packs []Pack) {
	path, _, _ := strings.Cut(r.URL.Path, capabilitiesPath)
	body, err := serviceOf(r, packs).WMTS(path)
	h.Asset(w, r, document.NewAsset(mediaXML, body), err)
}

func (h handlers) tileset(w http.ResponseWriter, r *http.Request, packs []Pack) {
	if r.PathValue("set") != packs[0].layer().SetID() {
		http.Error(w, "this map has no tiles of such a tile matrix set", http.StatusNotFound)
		return
	}
	h.layerDocument(tileset)(w, r, packs)
}

func (h handlers) matrixSet(w http.ResponseWriter, r *http.Request, packs []Pack) {
	set, ok := serviceOf(r, packs).MatrixSet(r.PathValue("set"))
	if !ok {
		http.Error(w, "no map here has tiles of such a tile matrix set", http.StatusNotFound)
		return
	}
	h.JSON(w, r, document.JSON, set)
}

func (h handlers) tile(w http.ResponseWriter, r *http.Request, packs []Pack) {
	t, err := packs[0].layer().At(r.PathValue("set"), r.PathValue("matrix"), r.PathValue("row"), r.PathValue("col"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	packs[0].Tiles.ServeTile(w, r, t)
}

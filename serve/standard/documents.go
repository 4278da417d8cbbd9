// Package standard serves the maps of a field server to other map programs
// on the hotspot: OGC WMTS 1.0.0 (07-057r7) in its RESTful and KVP encodings, and
// OGC API - Tiles (20-057) with the tile matrix sets of OGC 17-083r4.
package standard

import (
	"bytes"
	"embed"
	"encoding/json"
	"encoding/xml"
	"errors"
	"slices"
	"strconv"
	"strings"
	"text/template"

	"groundsheet/tiles"
)

//go:embed *.tmpl
var templateFiles embed.FS

// templates are the documents. Values enter them through json, xml or float.
var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"json":       jsonText,
	"xml":        xmlText,
	"float":      func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) },
	"operations": func() []string { return []string{"GetCapabilities", "GetTile"} },
}).ParseFS(templateFiles, "*.tmpl"))

func jsonText(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

func xmlText(s string) (string, error) {
	var b bytes.Buffer
	err := xml.EscapeText(&b, []byte(s))
	return b.String(), err
}

// jsonDocument is a document of OGC API - Tiles: a template and its data. As JSON it is
// what the template makes, checked and without its spaces.
type jsonDocument struct {
	template string
	data     any
}

// MarshalJSON fills in the template.
func (d jsonDocument) MarshalJSON() ([]byte, error) { return fill(d.template, d.data) }

func fill(name string, data any) ([]byte, error) {
	var b bytes.Buffer
	err := templates.ExecuteTemplate(&b, name, data)
	return b.Bytes(), err
}

func fillXML(name string, data any) ([]byte, error) {
	body, err := fill(name, data)
	return append([]byte(xml.Header), body...), err
}

// WMTS is the capabilities document of the service at a path, such as "/wmts".
// A layer without a tile is not in it, for it has no tile matrix to name.
func (s service) WMTS(path string) ([]byte, error) {
	s.Layers = slices.DeleteFunc(slices.Clone(s.Layers), func(l layer) bool { return len(l.Limits) == 0 })
	return fillXML("capabilities", struct {
		service
		Path string
	}{s, path})
}

// Link is a link to a JSON document at a path, as JSON.
func (s service) Link(path, rel, title string) (string, error) {
	return jsonText(struct {
		Href  string `json:"href"`
		Rel   string `json:"rel"`
		Type  string `json:"type"`
		Title string `json:"title"`
	}{s.Base + path, rel, "application/json", title})
}

// Of gives a layer with its service, for templates.
func (s service) Of(l layer) any {
	return struct {
		service
		Layer layer
	}{s, l}
}

// Formats are the conformance classes of the formats that layers have, for templates.
func (s service) Formats() (classes []string) {
	left := map[string]string{"image/png": "png", "image/jpeg": "jpeg"}
	for _, l := range s.Layers {
		if class := left[l.Media]; class != "" {
			classes = append(classes, class)
			delete(left, l.Media)
		}
	}
	return classes
}

// Names of documents: templates of ogcapi.json.tmpl, and the definition of the interface
// (OpenAPI 3.0). Those in the second group are about one layer.
const (
	landing     = "landing" // OGC 19-072, 7.2
	conformance = "conformance"
	api         = "openapi.json.tmpl"
	collections = "collections"
	matrixSets  = "matrixSets"

	collection = "collection"
	tilesets   = "tilesets"
	tileset    = "tileset"
)

// Document gives a document about the service, to be marshaled as JSON.
func (s service) Document(name string) any { return jsonDocument{name, s} }

// LayerDocument gives a document about one layer, to be marshaled as JSON.
func (s service) LayerDocument(name string, l layer) any { return jsonDocument{name, s.Of(l)} }

// MatrixSet describes a tile matrix set; ok is false when no map uses it.
func (s service) MatrixSet(id string) (doc any, ok bool) {
	for _, set := range s.Sets() {
		if set.ID() == id {
			return jsonDocument{"matrixSet", set}, true
		}
	}
	return nil, false
}

// layer is one map as other programs are told of it. Addresses of its tiles do
// not name its version: such programs keep a document for days, and have to find
// the tiles still when the map was packed again.
type layer struct {
	ID       string // its name in addresses
	Title    string
	About    string // plain words: whose picture, when taken, cautions
	Credit   string // attribution in plain words
	Media    string // of its tiles, such as "image/png"
	TileSize int    // pixels along a side; 0 = 256
	Bounds   tiles.Box
	Limits   []tiles.Limit // one for each zoom that holds tiles, shallowest first
	Tiles    string        // path of its tiles with {z}, {x} and {y}, such as "/packs/one/tiles/{z}/{x}/{y}.png"
	Version  string        // of its content; "" = none
}

// service is what is offered to whoever asked at one address. Documents hold
// absolute addresses, so they are made from the host that was asked.
type service struct {
	Base   string // such as "http://192.168.4.1:8460", without a slash at the end
	Title  string
	Layers []layer
}

// Find gives the layer of a name.
func (s service) Find(id string) (layer, bool) {
	for _, l := range s.Layers {
		if l.ID == id {
			return l, true
		}
	}
	return layer{}, false
}

// At reads a place as these standards write it: set, matrix, row and column.
// The error is a [exceptionReport] that names the first part that is wrong.
func (l layer) At(set, matrix, row, col string) (tiles.ID, error) {
	if set != l.SetID() {
		return tiles.ID{}, report(invalidParameterValue, "TileMatrixSet", "layer %s has TileMatrixSet %s alone",
			l.ID, l.SetID())
	}
	i := slices.IndexFunc(l.Limits, func(m tiles.Limit) bool { return strconv.Itoa(m.Zoom) == matrix })
	if i < 0 {
		return tiles.ID{}, report(invalidParameterValue, "TileMatrix", "layer %s has no such TileMatrix: it has %s",
			l.ID, l.matrices())
	}
	m := l.Limits[i]
	y, ok := number(row)
	if !ok {
		return tiles.ID{}, report(invalidParameterValue, "TileRow", "want a whole number")
	}
	x, ok := number(col)
	if !ok {
		return tiles.ID{}, report(invalidParameterValue, "TileCol", "want a whole number")
	}
	if y < uint64(m.MinRow) || y > uint64(m.MaxRow) {
		return tiles.ID{}, report(tileOutOfRange, "TileRow", "rows go from %d to %d", m.MinRow, m.MaxRow)
	}
	if x < uint64(m.MinCol) || x > uint64(m.MaxCol) {
		return tiles.ID{}, report(tileOutOfRange, "TileCol", "columns go from %d to %d", m.MinCol, m.MaxCol)
	}
	return tiles.ID{Z: uint32(m.Zoom), X: uint32(x), Y: uint32(y)}, nil
}

// number reads a whole number; one too large for a tile is a number still, and out of
// range.
func number(text string) (n uint64, ok bool) {
	n, err := strconv.ParseUint(text, 10, 64)
	return n, err == nil || errors.Is(err, strconv.ErrRange)
}

func (l layer) matrices() string {
	if len(l.Limits) == 0 {
		return "none, for it holds no tile"
	}
	var all []string
	for _, m := range l.Limits {
		all = append(all, strconv.Itoa(m.Zoom))
	}
	return strings.Join(all, ", ")
}

// Template is the path of the layer's tiles with the names of WMTS.
func (l layer) Template() string {
	return strings.NewReplacer("{z}", "{TileMatrix}", "{x}", "{TileCol}", "{y}", "{TileRow}").Replace(l.Tiles)
}

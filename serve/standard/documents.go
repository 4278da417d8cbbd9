package standard

import (
	"bytes"
	"embed"
	"encoding/json"
	"encoding/xml"
	"slices"
	"strconv"
	"text/template"
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

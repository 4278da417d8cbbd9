package discover

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// ogcDocument is what is read of the JSON documents of OGC API – Tiles 1.0 (OGC
// 20-057): a landing page, collections, a collection, a list of tilesets, or a
// tileset. The keys that a document has tell which it is.
type ogcDocument struct {
	ID          string        `json:"id"`
	Title       string        `json:"title"`
	Attribution string        `json:"attribution"`
	DataType    string        `json:"dataType"`
	CRS         name          `json:"crs"`
	SetURI      string        `json:"tileMatrixSetURI"`
	SetID       string        `json:"tileMatrixSetId"`
	Limits      []ogcLimit    `json:"tileMatrixSetLimits"`
	Links       []ogcLink     `json:"links"`
	Tilesets    []ogcDocument `json:"tilesets"`
	Collections []ogcDocument `json:"collections"`
	Extent      struct {
		Spatial struct {
			Boxes [][]float64 `json:"bbox"`
		} `json:"spatial"`
	} `json:"extent"`
}

type ogcLink struct {
	Href      string `json:"href"`
	Rel       string `json:"rel"`
	Type      string `json:"type"`
	Templated bool   `json:"templated"`
}

type ogcLimit struct {
	Matrix string `json:"tileMatrix"`
	MinRow int64  `json:"minTileRow"`
	MaxRow int64  `json:"maxTileRow"`
	MinCol int64  `json:"minTileCol"`
	MaxCol int64  `json:"maxTileCol"`
}

// name is a text, or an object that has it as uri: both ways are written.
type name string

// UnmarshalJSON never fails: what is no name is none.
func (n *name) UnmarshalJSON(data []byte) error {
	var object struct{ URI string }
	var list []string
	switch {
	case json.Unmarshal(data, (*string)(n)) == nil:
	case json.Unmarshal(data, &object) == nil:
		*n = name(object.URI)
	case json.Unmarshal(data, &list) == nil && len(list) > 0:
		*n = name(list[0])
	}
	return nil
}

func parseOGC(data []byte) (ogcDocument, error) {
	var d ogcDocument
	if err := json.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &d); err != nil {
		return d, fmt.Errorf("it cannot be read as JSON: %s", plainJSON(err))
	}
	if len(d.Links) == 0 && len(d.Tilesets) == 0 && len(d.Collections) == 0 {
		return d, fmt.Errorf("it has no links, tilesets or collections")
	}
	return d, nil
}

// relation reports whether a link has a relation of OGC, as a URI or short
// (OGC 20-057, Table 1).
func (l ogcLink) relation(name string) bool {
	for _, form := range []string{name, "[ogc-rel:" + name + "]", "ogc-rel:" + name, "http://www.opengis.net/def/rel/ogc/1.0/" + name, "https://www.opengis.net/def/rel/ogc/1.0/" + name} {
		if l.Rel == form {
			return true
		}
	}
	return false
}

// link is the first link of a relation that leads to JSON or does not say.
func (d ogcDocument) link(relations ...string) (string, bool) {
	for _, r := range relations {
		for _, l := range d.Links {
			if l.relation(r) && !l.Templated && (l.Type == "" || strings.Contains(l.Type, "json")) {
				return l.Href, true
			}
		}
	}
	return "", false
}

// items are the templates of tiles, in order.
func (d ogcDocument) items() (out []ogcLink) {
	for _, l := range d.Links {
		if l.relation("item") && (l.Templated || strings.Contains(l.Href, "{")) {
			out = append(out, l)
		}
	}
	return out
}

// bounds is the ground of a collection, nil when it does not say.
func (d ogcDocument) bounds() *tiles.Box {
	if len(d.Extent.Spatial.Boxes) == 0 {
		return nil
	}
	b := d.Extent.Spatial.Boxes[0] // the whole; others are its parts
	if len(b) == 6 {               // with heights
		b = []float64{b[0], b[1], b[3], b[4]}
	}
	return box(b)
}

// page is a document with the address it came from, so that links can be
// followed.
type page struct {
	ogcDocument
	at *url.URL
}

func (a *asker) page(ctx context.Context, address string) (page, error) {
	doc, err := a.get(ctx, address, acceptJSON)
	if err != nil {
		return page{}, err
	}
	d, err := parseOGC(doc.data)
	if err != nil {
		return page{}, a.failed(address, "no document of OGC API – Tiles", err, "give the address of the tileset or of the service, or ask what it is with groundsheet source add")
	}
	return page{d, doc.at}, nil
}

// follow goes to a linked document, on the same host alone unless the operator
// named another.
func (a *asker) follow(ctx context.Context, from page, href string) (page, error) {
	address, err := absolute(from.at, a.src.TakeKey(href))
	if err != nil {
		return page{}, err
	}
	if address, err = allowed(a.src, from.at, address); err != nil {
		return page{}, err
	}
	return a.page(ctx, address)
}

// steps is how many links lead from a landing page to a tileset at most:
// collections, collection, list, tileset.
const steps = 5

// tilesets follows links until tilesets are found: those that a list names are
// not read yet.
func (a *asker) tilesets(ctx context.Context, p page) (page, error) {
	for range steps {
		if len(p.items()) > 0 || len(p.Tilesets) > 0 {
			return p, nil
		}
		relations := []string{"tilesets-map", "data"}
		if a.src.Layer != "" && p.ID != a.src.Layer {
			relations = []string{"data", "tilesets-map"}
		}
		if len(p.Collections) > 0 {
			c, err := p.collection(a.src.Layer)
			if err != nil {
				return p, err
			}
			p, relations = page{c, p.at}, []string{"tilesets-map", "self"}
			a.collection = c
		}
		href, ok := p.link(relations...)
		if !ok {
			return p, a.deadEnd(p)
		}
		next, err := a.follow(ctx, p, href)
		if err != nil {
			return p, err
		}
		p = next
	}
	return p, unfit("give the address of the tileset itself", "no tileset was found within %d links", steps)
}

func (a *asker) deadEnd(p page) error {
	if _, vector := p.link("tilesets-vector"); vector {
		return unfit("a base map needs pictures: choose another collection", "it has vector tiles alone, which are lines and words to be drawn")
	}
	return unfit("give the address of the tileset itself", "no link in %s leads to tiles", a.src.Redact(p.at.String()))
}

func (d ogcDocument) collection(id string) (ogcDocument, error) {
	var names []string
	for _, c := range d.Collections {
		if c.ID == id || id == "" && len(d.Collections) == 1 {
			return c, nil
		}
		names = append(names, c.ID)
	}
	if id == "" {
		return d, unfit("name one with layer", "it has several collections: %s", list(names))
	}
	return d, unfit("set layer to one of them", "it has no collection %s but %s", quote(id), list(names))
}

func (a *asker) ogcTiles(ctx context.Context) (source.Source, error) {
	p, err := a.page(ctx, a.src.URL)
	if err != nil {
		return a.src, err
	}
	if p, err = a.tilesets(ctx, p); err != nil {
		return a.src, err
	}
	if len(p.items()) > 0 {
		return a.tileset(ctx, p)
	}
	var why []string
	for _, entry := range p.candidates(a.src.MatrixSet) {
		t, err := a.entry(ctx, page{entry, p.at})
		if err != nil {
			return a.src, err
		}
		out, err := a.tileset(ctx, t)
		if err == nil {
			return out, nil
		}
		u, ok := err.(*Unfit) //nolint:errorlint // made here, not wrapped
		if !ok {
			return a.src, err
		}
		why = append(why, u.Why)
	}
	if len(why) == 0 {
		return a.src, unfit("choose another collection or matrix_set", "none of its tilesets is of Web Mercator pictures: %s", list(p.setNames()))
	}
	return a.src, unfit("correct zooms, tile_size or format, or choose another matrix_set", "%s", strings.Join(why[:min(3, len(why))], "; "))
}

// candidates are the tilesets that may do; those called Web Mercator first.
func (d ogcDocument) candidates(matrixSet string) (out []ogcDocument) {
	for _, t := range d.Tilesets {
		if t.DataType == "vector" || matrixSet != "" && !t.isSet(matrixSet) || matrixSet == "" && t.CRS != "" && !mercator(string(t.CRS)) {
			continue
		}
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b ogcDocument) int { return rank(a) - rank(b) })
	return out
}

func rank(d ogcDocument) int {
	if d.isSet("WebMercatorQuad") {
		return 0
	}
	return 1
}

// isSet reports whether the tileset is of a tile matrix set of a name.
func (d ogcDocument) isSet(name string) bool {
	return d.SetID == name || d.SetURI == name || d.SetURI != "" && strings.HasSuffix(d.SetURI, "/"+name)
}

func (d ogcDocument) setNames() (out []string) {
	for _, t := range d.Tilesets {
		out = append(out, strings.TrimSpace(t.DataType+" "+t.SetID+t.SetURI))
	}
	return out
}

// entry reads the tileset of a list unless the list has all of it.
func (a *asker) entry(ctx context.Context, p page) (page, error) {
	if len(p.items()) > 0 {
		return p, nil
	}
	href, ok := p.link("self", "tileset")
	if !ok {
		return p, unfit("give the address of the tileset itself", "its list of tilesets has no link to one")
	}
	return a.follow(ctx, p, href)
}

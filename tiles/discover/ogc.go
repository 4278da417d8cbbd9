package discover

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
)

// ogcDocument is what is read of the JSON documents of OGC API – Tiles 1.0 (OGC
// 20-057): a landing page, collections, a collection, a list of tilesets, or a
// tileset. The keys that a document has tell which it is.
type ogcDocument struct {
	ID          string        `json:"id"`
	Title       string        `json:"title"`
	Attribution string        `json:"attribution"`
	DataType    string        `json:"dataType"`
	CRS         crsName       `json:"crs"`
	SetURI      string        `json:"tileMatrixSetURI"`
	SetID       string        `json:"tileMatrixSetId"`
	Limits      []matrixLimit `json:"tileMatrixSetLimits"`
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

// crsName is a text, an object with a uri, or a list: all are in use.
type crsName string

// UnmarshalJSON never fails: anything else leaves it empty.
func (n *crsName) UnmarshalJSON(data []byte) error {
	var object struct{ URI string }
	var list []string
	switch {
	case json.Unmarshal(data, (*string)(n)) == nil:
	case json.Unmarshal(data, &object) == nil:
		*n = crsName(object.URI)
	case json.Unmarshal(data, &list) == nil && len(list) > 0:
		*n = crsName(list[0])
	}
	return nil
}

func parseOGC(data []byte) (d ogcDocument, err error) {
	if err := readJSON(data, &d); err != nil {
		return d, err
	}
	if len(d.Links) == 0 && len(d.Tilesets) == 0 && len(d.Collections) == 0 {
		return d, fmt.Errorf("it has no links, tilesets or collections")
	}
	return d, nil
}

// link is the first link of a relation that leads to JSON or does not say.
// Relations of OGC come as a URI or short (OGC 20-057, Table 1).
func (d ogcDocument) link(relations ...string) (string, bool) {
	for _, r := range relations {
		for _, l := range d.Links {
			if l.has(r) && !l.Templated && (l.Type == "" || strings.Contains(l.Type, "json")) {
				return l.Href, true
			}
		}
	}
	return "", false
}

func (l ogcLink) has(relation string) bool {
	prefixes := []string{"", "ogc-rel:", "http://www.opengis.net/def/rel/ogc/1.0/",
		"https://www.opengis.net/def/rel/ogc/1.0/"}
	return slices.ContainsFunc(prefixes, func(p string) bool { return l.Rel == p+relation }) ||
		l.Rel == "[ogc-rel:"+relation+"]"
}

// items are the templates of tiles, in order.
func (d ogcDocument) items() (out []ogcLink) {
	for _, l := range d.Links {
		if l.has("item") && (l.Templated || strings.Contains(l.Href, "{")) {
			out = append(out, l)
		}
	}
	return out
}

// bounds is the ground of a collection, nil if it does not say.
func (d ogcDocument) bounds() *tiles.Box {
	if len(d.Extent.Spatial.Boxes) == 0 {
		return nil
	}
	b := d.Extent.Spatial.Boxes[0] // the whole; others are its parts
	if len(b) == 6 {               // with heights
		return box(b[0], b[1], b[3], b[4])
	}
	return box(b...)
}

// candidates are the tilesets that may fit; those called Web Mercator first.
func (d ogcDocument) candidates(matrixSet string) (out []ogcDocument) {
	for _, t := range d.Tilesets {
		if t.DataType == "vector" || matrixSet != "" && !t.isSet(matrixSet) || matrixSet == "" && t.CRS != "" &&
			!mercator(string(t.CRS)) {
			continue
		}
		out = append(out, t)
	}
	rank := func(d ogcDocument) int {
		if d.isSet("WebMercatorQuad") {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(out, func(a, b ogcDocument) int { return rank(a) - rank(b) })
	return out
}

// isSet reports whether the tileset is of a tile matrix set of a name.
func (d ogcDocument) isSet(name string) bool {
	return d.SetID == name || d.SetURI == name || d.SetURI != "" && strings.HasSuffix(d.SetURI, "/"+name)
}

// page is a document with the address it came from, so that links can be
// followed.
type page struct {
	ogcDocument
	at         *url.URL
	collection ogcDocument // that the tilesets belong to, if known
}

// ogcSession walks the documents of OGC API – Tiles.
type ogcSession struct{ *session }

func (s ogcSession) page(ctx context.Context, address string) (page, error) {
	r, err := s.document(ctx, address, acceptJSON)
	if err != nil {
		return page{}, err
	}
	d, err := parseOGC(r.data)
	if err != nil {
		return page{}, s.fail(Failed, address, "no document of OGC API – Tiles", err,
			"give the address of the tileset or of the service, or ask what it is with groundsheet source add")
	}
	return page{ogcDocument: d, at: r.at}, nil
}

// linked is the address that a link leads to: on the same host alone unless the
// operator named another.
func (s ogcSession) linked(from page, href string) (string, error) {
	address, err := absolute(from.at, s.src.TakeKey(href))
	if err != nil {
		return "", err
	}
	return allowed(s.src, from.at, address)
}

func (s ogcSession) follow(ctx context.Context, from page, href string) (page, error) {
	address, err := s.linked(from, href)
	if err != nil {
		return page{}, err
	}
	p, err := s.page(ctx, address)
	p.collection = from.collection
	return p, err
}

// maxLinks is how many links lead from a landing page to a tileset at most:
// collections, collection, list, tileset.
const maxLinks = 5

// findTilesets follows links until tilesets are found: those that a list names
// are not read yet.
func (s ogcSession) findTilesets(ctx context.Context, p page) (page, error) {
	for range maxLinks {
		if len(p.items()) > 0 || len(p.Tilesets) > 0 {
			return p, nil
		}
		relations := []string{"tilesets-map", "data"}
		if s.src.Layer != "" && p.ID != s.src.Layer {
			relations = []string{"data", "tilesets-map"}
		}
		if len(p.Collections) > 0 {
			c, err := pick(p.Collections, func(c ogcDocument) string { return c.ID }, "collection", s.src.Layer)
			if err != nil {
				return p, err
			}
			p, relations = page{c, p.at, c}, []string{"tilesets-map", "self"}
		}
		href, ok := p.link(relations...)
		if !ok {
			return p, s.deadEnd(p)
		}
		next, err := s.follow(ctx, p, href)
		if err != nil {
			return p, err
		}
		p = next
	}
	return p, unfit("give the address of the tileset itself", "no tileset was found within %d links", maxLinks)
}

func (s ogcSession) deadEnd(p page) error {
	if _, vector := p.link("tilesets-vector"); vector {
		return unfit("a base map needs pictures: choose another collection",
			"it has vector tiles alone, which are lines and words to be drawn")
	}
	return unfit("give the address of the tileset itself", "no link in %s leads to tiles", s.src.Redact(p.at.String()))
}

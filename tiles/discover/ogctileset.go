package discover

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

// webMercatorQuad is the name of the set in the register of OGC (17-083r4,
// Annex D).
const webMercatorQuad = "www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"

// matrixSet is a tile matrix set in JSON (OGC 17-083r4, 7.1).
type matrixSet struct {
	CRS      crsName `json:"crs"`
	Matrices []struct {
		ID      string    `json:"id"`
		Scale   float64   `json:"scaleDenominator"`
		Corner  string    `json:"cornerOfOrigin"`
		Origin  []float64 `json:"pointOfOrigin"`
		Width   int       `json:"tileWidth"`
		Height  int       `json:"tileHeight"`
		Columns int64     `json:"matrixWidth"`
		Rows    int64     `json:"matrixHeight"`
		Varying []any     `json:"variableMatrixWidths"`
	} `json:"tileMatrices"`
}

func readJSON(data []byte, into any) error {
	if err := json.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), into); err != nil {
		return fmt.Errorf("it cannot be read as JSON: %s", plainJSON(err))
	}
	return nil
}

func parseMatrixSet(data []byte) (m matrixSet, err error) {
	if err = readJSON(data, &m); err == nil && len(m.Matrices) == 0 {
		err = fmt.Errorf("it has no tileMatrices")
	}
	return m, err
}

// matrices leaves out those that are not plain rows from the north.
func (m matrixSet) matrices() (out []matrix) {
	for _, m := range m.Matrices {
		if m.Corner != "" && m.Corner != "topLeft" || len(m.Varying) > 0 || len(m.Origin) < 2 {
			continue
		}
		out = append(out, matrix{m.ID, m.Scale, m.Origin[0], m.Origin[1], m.Width, m.Height, m.Columns, m.Rows})
	}
	return out
}

// standardSet is WebMercatorQuad itself, which needs no document.
func standardSet() (out []matrix) {
	const half = 20037508.342789244 // pi·6378137
	for z := range 25 {
		out = append(out, matrix{fmt.Sprint(z), 559082264.0287178 / float64(uint64(1)<<z), -half, half, 256,
			256, 1 << z, 1 << z})
	}
	return out
}

func (s ogcSession) resolve(ctx context.Context) (out source.Source, err error) {
	p, err := s.page(ctx, s.src.URL)
	if err != nil {
		return s.src, err
	}
	err = s.firstTileset(ctx, p, func(t page) (err error) {
		out, err = s.tileset(ctx, s.src, t)
		return err
	})
	return out, err
}

// firstTileset takes the first tileset of a service that fits, as use finds.
func (s ogcSession) firstTileset(ctx context.Context, p page, use func(page) error) error {
	p, err := s.findTilesets(ctx, p)
	if err != nil {
		return err
	}
	if len(p.items()) > 0 {
		return use(p)
	}
	var why []string
	for _, entry := range p.candidates(s.src.MatrixSet) {
		err := s.useEntry(ctx, page{entry, p.at, p.collection}, use)
		var f *fault.Fault
		if !errors.Is(err, Unfit) || !errors.As(err, &f) {
			return err
		}
		why = append(why, f.Detail)
	}
	if len(why) > 0 {
		return unfit("correct zooms, tile_size or format, or choose another matrix_set", "%s",
			strings.Join(why[:min(3, len(why))], "; "))
	}
	var names []string
	for _, t := range p.Tilesets {
		names = append(names, strings.TrimSpace(t.DataType+" "+t.SetID+t.SetURI))
	}
	return unfit("choose another collection or matrix_set", "none of its tilesets is of Web Mercator pictures: %s",
		list(names))
}

// useEntry reads the tileset of a list unless the list has all of it.
func (s ogcSession) useEntry(ctx context.Context, p page, use func(page) error) error {
	if len(p.items()) > 0 {
		return use(p)
	}
	href, ok := p.link("self", "tileset")
	if !ok {
		return unfit("give the address of the tileset itself", "its list of tilesets has no link to one")
	}
	p, err := s.follow(ctx, p, href)
	if err != nil {
		return err
	}
	return use(p)
}

// tileset returns the source with the addresses of a tileset.
func (s ogcSession) tileset(ctx context.Context, src source.Source, p page) (source.Source, error) {
	if src.MatrixSet != "" && (p.SetID != "" || p.SetURI != "") && !p.isSet(src.MatrixSet) {
		return src, unfit("correct matrix_set, or leave it out", "the tileset is of %s, and %s is stated",
			quote(p.SetID+p.SetURI), quote(src.MatrixSet))
	}
	matrices, err := s.matrices(ctx, p)
	if err != nil {
		return src, err
	}
	g := fit(matrices, p.Limits, src.TileSize)
	if why := g.lacks(src.Zooms); why != "" {
		return src, unfit("correct zooms and tile_size, or choose another tileset", "tileset %s does not fit: %s",
			quote(p.SetID+p.SetURI+p.Title), why)
	}
	item, err := p.item(src.Format)
	if err != nil {
		return src, err
	}
	href, err := absolute(p.at, src.TakeKey(item.Href))
	if err != nil {
		return src, err
	}
	ours := map[string]string{"tilematrix": "{matrix}", "tilerow": "{y}", "tilecol": "{x}"}
	template, err := ourTemplate(src, p.at, href, ours, func(name string) (string, bool) {
		switch strings.ToLower(name) {
		case "tilematrixsetid":
			return p.SetID, true
		case "collectionid":
			return src.Layer, true
		}
		return "", false
	})
	src.Matrix, src.Limits, src.Templates = g.names, g.limits, []string{template}
	return src, err
}

// matrices are those of the tileset's tile matrix set: by its registered name,
// else from the document that it links to.
func (s ogcSession) matrices(ctx context.Context, p page) ([]matrix, error) {
	_, uri, _ := strings.Cut(p.SetURI, "://")
	href, linked := p.link("tiling-scheme")
	_, address, _ := strings.Cut(href, "://")
	if strings.EqualFold(uri, webMercatorQuad) || uri == "" && strings.EqualFold(address, webMercatorQuad) {
		return standardSet(), nil
	}
	if !linked {
		return nil, unfit("ask the provider", "tileset %s names no tile matrix set", quote(p.SetID+p.Title))
	}
	where, err := s.linked(p, href)
	if err != nil {
		return nil, err
	}
	r, err := s.document(ctx, where, acceptJSON)
	if err != nil {
		return nil, err
	}
	m, err := parseMatrixSet(r.data)
	if err != nil {
		return nil, s.fail(Failed, where, "no tile matrix set", err, "tell the provider")
	}
	if !mercator(string(m.CRS)) {
		return nil, unfit("choose another matrix_set", "the reference system of its tile matrix set is %s",
			quote(string(m.CRS)))
	}
	return m.matrices(), nil
}

// item is the template of the format that is asked for, or of the first that
// can be used.
func (d ogcDocument) item(format string) (out ogcLink, err error) {
	var types []string
	for _, l := range d.items() {
		types = append(types, l.Type)
	}
	chosen, err := chooseFormat(format, types)
	for _, l := range d.items() {
		if err == nil && strings.TrimSpace(l.Type) == chosen {
			return l, nil
		}
	}
	return ogcLink{}, err
}

// offers lists collections, or describes the only one or the one that the
// session's source names.
func (s ogcSession) offers(ctx context.Context, p page) (out []Offer, err error) {
	s.src.Kind = source.KindOGCTiles
	if s.src.Layer == "" && len(p.Collections) == 0 && len(p.items()) == 0 && len(p.Tilesets) == 0 {
		_, whole := p.link("tilesets-map") // of all collections together
		if href, ok := p.link("data"); ok && !whole {
			if p, err = s.follow(ctx, p, href); err != nil {
				return nil, err
			}
		}
	}
	if s.src.Layer == "" && len(p.Collections) > 1 {
		for _, c := range p.Collections {
			src := s.src
			src.Layer = c.ID
			out = append(out, Offer{Source: src, Title: oneLine(c.Title, 200)})
		}
		return out, nil
	}
	err = s.firstTileset(ctx, p, func(t page) (err error) {
		out, err = s.offer(ctx, t)
		return err
	})
	return out, err
}

// offer describes a tileset, with the first size of tiles that fits.
func (s ogcSession) offer(ctx context.Context, t page) ([]Offer, error) {
	matrices, err := s.matrices(ctx, t)
	for _, size := range sizes(s.src) {
		zooms, ok := fit(matrices, t.Limits, size).zooms()
		if !ok {
			err = cmp.Or(err, unfit("choose another tileset", "tileset %s has no zoom of Web Mercator with %d-pixel tiles",
				quote(t.SetID+t.SetURI), size))
			continue
		}
		src := s.src
		src.TileSize, src.Zooms = size, cmp.Or(src.Zooms, zooms)
		src.MatrixSet = cmp.Or(src.MatrixSet, t.SetID, t.SetURI[strings.LastIndexByte(t.SetURI, '/')+1:])
		if _, wrong := s.tileset(ctx, src, t); wrong != nil {
			err = cmp.Or(err, wrong)
			continue
		}
		src.Attribution, src.Bounds = plainText(cmp.Or(t.Attribution, t.collection.Attribution)), t.collection.bounds()
		if item, err := t.item(src.Format); err == nil {
			src.Format = strings.TrimSpace(item.Type)
		}
		return []Offer{{Source: src, Title: oneLine(cmp.Or(t.collection.Title, t.Title), 200), Whole: true}}, nil
	}
	return nil, err
}

package discover

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"groundsheet/tiles/source"
)

// webMercatorQuad is the name of the set in the register of OGC (17-083r4,
// Annex D).
const webMercatorQuad = "www.opengis.net/def/tilematrixset/OGC/1.0/WebMercatorQuad"

// matrixSet is a tile matrix set in JSON (OGC 17-083r4, 7.1).
type matrixSet struct {
	CRS      name `json:"crs"`
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

func parseMatrixSet(data []byte) (matrixSet, error) {
	var s matrixSet
	if err := json.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &s); err != nil {
		return s, fmt.Errorf("it cannot be read as JSON: %s", plainJSON(err))
	}
	if len(s.Matrices) == 0 {
		return s, fmt.Errorf("it has no tileMatrices")
	}
	return s, nil
}

// matrices leaves out those that are not plain rows from the north.
func (s matrixSet) matrices() (out []matrix) {
	for _, m := range s.Matrices {
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
		out = append(out, matrix{fmt.Sprint(z), 559082264.0287178 / float64(uint64(1)<<z), -half, half, 256, 256, 1 << z, 1 << z})
	}
	return out
}

// tileset gives the source with the addresses of a tileset.
func (a *asker) tileset(ctx context.Context, p page) (source.Source, error) {
	src := a.src
	if src.MatrixSet != "" && (p.SetID != "" || p.SetURI != "") && !p.isSet(src.MatrixSet) {
		return src, unfit("correct matrix_set, or leave it out", "the tileset is of %s, and %s is stated", quote(p.SetID+p.SetURI), quote(src.MatrixSet))
	}
	matrices, err := a.matrices(ctx, p)
	if err != nil {
		return src, err
	}
	g := fit(matrices, p.listed(), src.TileSize)
	if why := g.lacks(src.Zooms); why != "" {
		return src, unfit("correct zooms and tile_size, or choose another tileset", "tileset %s does not fit: %s", quote(p.SetID+p.SetURI+p.Title), why)
	}
	item, err := p.item(src.Format)
	if err != nil {
		return src, err
	}
	template, err := a.itemTemplate(p, item)
	if err != nil {
		return src, err
	}
	src.Matrix, src.Limits, src.Templates = g.names, g.limits, []string{template}
	return src, nil
}

// matrices are those of the tileset's tile matrix set: by its registered name,
// else from the document that it links to.
func (a *asker) matrices(ctx context.Context, p page) ([]matrix, error) {
	_, uri, _ := strings.Cut(p.SetURI, "://")
	href, linked := p.link("tiling-scheme")
	_, address, _ := strings.Cut(href, "://")
	if strings.EqualFold(uri, webMercatorQuad) || uri == "" && strings.EqualFold(address, webMercatorQuad) {
		return standardSet(), nil
	}
	if !linked {
		return nil, unfit("ask the provider", "tileset %s names no tile matrix set", quote(p.SetID+p.Title))
	}
	where, err := absolute(p.at, a.src.TakeKey(href))
	if err != nil {
		return nil, err
	}
	if where, err = allowed(a.src, p.at, where); err != nil {
		return nil, err
	}
	doc, err := a.get(ctx, where, acceptJSON)
	if err != nil {
		return nil, err
	}
	s, err := parseMatrixSet(doc.data)
	if err != nil {
		return nil, a.failed(where, "no tile matrix set", err, "tell the provider")
	}
	if !mercator(string(s.CRS)) {
		return nil, unfit("choose another matrix_set", "the reference system of its tile matrix set is %s", quote(string(s.CRS)))
	}
	return s.matrices(), nil
}

// item is the template of the format that is asked for, or of the first that
// can be used.
func (d ogcDocument) item(format string) (ogcLink, error) {
	var types []string
	for _, l := range d.items() {
		types = append(types, l.Type)
	}
	chosen, err := chooseFormat(format, types)
	if err != nil {
		return ogcLink{}, err
	}
	for _, l := range d.items() {
		if strings.TrimSpace(l.Type) == chosen {
			return l, nil
		}
	}
	return ogcLink{}, err
}

func (a *asker) itemTemplate(p page, item ogcLink) (string, error) {
	seen := map[string]bool{}
	ours, err := translate(a.src.TakeKey(item.Href), func(name string) (string, bool, error) {
		seen[strings.ToLower(name)] = true
		switch strings.ToLower(name) {
		case "tilematrix":
			return "{matrix}", false, nil
		case "tilerow":
			return "{y}", false, nil
		case "tilecol":
			return "{x}", false, nil
		case "tilematrixsetid":
			return p.SetID, true, nil
		case "collectionid":
			return a.src.Layer, true, nil
		}
		return "", false, unfit("tell the provider, or write the address as kind xyz", "its address %s has {%s}, which is not known", plain(item.Href, 200), plain(name, 40))
	})
	if err != nil {
		return "", err
	}
	if !seen["tilematrix"] || !seen["tilerow"] || !seen["tilecol"] {
		return "", unfit("tell the provider", "its address %s lacks the place of a tile", plain(item.Href, 200))
	}
	if ours, err = absolute(p.at, ours); err != nil {
		return "", err
	}
	return allowed(a.src, p.at, ours)
}

package discover

import (
	"context"
	"encoding/xml"
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// wmtsDocument is what is read of WMTS 1.0.0 capabilities (OGC 07-057r7).
type wmtsDocument struct {
	XMLName    xml.Name
	Version    string `xml:"version,attr"`
	Title      string `xml:"ServiceIdentification>Title"`
	Provider   string `xml:"ServiceProvider>ProviderName"`
	Operations []struct {
		Name string `xml:"name,attr"`
		Gets []struct {
			Href        string `xml:"href,attr"`
			Constraints []struct {
				Name   string   `xml:"name,attr"`
				Values []string `xml:"AllowedValues>Value"`
			} `xml:"Constraint"`
		} `xml:"DCP>HTTP>Get"`
	} `xml:"OperationsMetadata>Operation"`
	Layers []wmtsLayer `xml:"Contents>Layer"`
	Sets   []wmtsSet   `xml:"Contents>TileMatrixSet"`
}

type wmtsLayer struct {
	ID     string `xml:"Identifier"`
	Title  string `xml:"Title"`
	Lower  string `xml:"WGS84BoundingBox>LowerCorner"`
	Upper  string `xml:"WGS84BoundingBox>UpperCorner"`
	Styles []struct {
		ID      string `xml:"Identifier"`
		Default string `xml:"isDefault,attr"`
	} `xml:"Style"`
	Formats    []string `xml:"Format"`
	Dimensions []struct {
		ID      string   `xml:"Identifier"`
		Default string   `xml:"Default"`
		Values  []string `xml:"Value"`
	} `xml:"Dimension"`
	Links []struct {
		Set    string `xml:"TileMatrixSet"`
		Limits []struct {
			Matrix string `xml:"TileMatrix"`
			MinRow string `xml:"MinTileRow"`
			MaxRow string `xml:"MaxTileRow"`
			MinCol string `xml:"MinTileCol"`
			MaxCol string `xml:"MaxTileCol"`
		} `xml:"TileMatrixSetLimits>TileMatrixLimits"`
	} `xml:"TileMatrixSetLink"`
	Resources []struct {
		Format   string `xml:"format,attr"`
		Type     string `xml:"resourceType,attr"`
		Template string `xml:"template,attr"`
	} `xml:"ResourceURL"`
}

type wmtsSet struct {
	ID       string `xml:"Identifier"`
	CRS      string `xml:"SupportedCRS"`
	Matrices []struct {
		ID      string `xml:"Identifier"`
		Scale   string `xml:"ScaleDenominator"`
		Corner  string `xml:"TopLeftCorner"`
		Width   string `xml:"TileWidth"`
		Height  string `xml:"TileHeight"`
		Columns string `xml:"MatrixWidth"`
		Rows    string `xml:"MatrixHeight"`
	} `xml:"TileMatrix"`
}

func parseWMTS(data []byte) (*wmtsDocument, error) {
	if words, is := said(data); is {
		return nil, fmt.Errorf("the service says: %s", words)
	}
	var d wmtsDocument
	if err := readXML(data, &d); err != nil {
		return nil, fmt.Errorf("it cannot be read as XML: %s", plain(err.Error(), 160))
	}
	switch {
	case d.XMLName.Local != "Capabilities":
		return nil, fmt.Errorf("it is a document of %s, not Capabilities", quote(d.XMLName.Local))
	case d.Version != "1.0.0":
		return nil, fmt.Errorf("its version is %s, not 1.0.0", quote(d.Version))
	case len(d.Layers) == 0:
		return nil, fmt.Errorf("it has no layer")
	}
	return &d, nil
}

// capabilities reads the document that an address names, or asks a bare
// service for it.
func (a *asker) capabilities(ctx context.Context, service, version string) (document, error) {
	_, query, _ := strings.Cut(a.src.URL, "?")
	path := strings.ToLower(strings.TrimSuffix(a.src.URL, "?"+query))
	if strings.Contains(strings.ToLower(query), "request=getcapabilities") || query == "" && strings.HasSuffix(path, ".xml") {
		return a.get(ctx, a.src.URL, acceptXML)
	}
	return a.get(ctx, ask(a.src.URL, "SERVICE="+service, "REQUEST=GetCapabilities", "VERSION="+version), acceptXML)
}

func (a *asker) wmts(ctx context.Context) (source.Source, error) {
	doc, err := a.capabilities(ctx, "WMTS", "1.0.0")
	if err != nil {
		return a.src, err
	}
	d, err := parseWMTS(doc.data)
	if err != nil {
		return a.src, a.failed(a.src.URL, "no WMTS capabilities", err, "give the address of a WMTS 1.0.0 service, or ask what it is with groundsheet source add")
	}
	return d.fit(a.src, doc.at)
}

// matrices are the numbers of the set; what is no number is NaN or 0 and fits
// nowhere.
func (s wmtsSet) matrices() (out []matrix) {
	for _, m := range s.Matrices {
		corner := append(strings.Fields(m.Corner), "", "")
		out = append(out, matrix{
			name: m.ID, scale: float(m.Scale), left: float(corner[0]), top: float(corner[1]),
			width: int(whole(m.Width)), height: int(whole(m.Height)), columns: whole(m.Columns), rows: whole(m.Rows),
		})
	}
	return out
}

// limits are those of the layer's i-th link.
func (l wmtsLayer) limits(i int) (out []limit) {
	for _, m := range l.Links[i].Limits {
		out = append(out, limit{m.Matrix, whole(m.MinRow), whole(m.MaxRow), whole(m.MinCol), whole(m.MaxCol)})
	}
	return out
}

// bounds is the ground of the layer, nil when it does not say.
func (l wmtsLayer) bounds() *tiles.Box {
	var v []float64
	for _, text := range append(strings.Fields(l.Lower), strings.Fields(l.Upper)...) {
		v = append(v, float(text))
	}
	return box(v)
}

func float(s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return nan()
	}
	return v
}

// whole reads a whole number; -1 when it is none.
func whole(s string) int64 {
	v, err := strconv.ParseInt(strings.TrimSpace(s), 10, 64)
	if err != nil {
		return -1
	}
	return v
}

// layer is the one that is named, or the only one.
func (d *wmtsDocument) layer(name string) (wmtsLayer, error) {
	var names []string
	for _, l := range d.Layers {
		if l.ID == name || name == "" && len(d.Layers) == 1 {
			return l, nil
		}
		names = append(names, l.ID)
	}
	if name == "" {
		return wmtsLayer{}, unfit("name one with layer", "it has several layers: %s", list(names))
	}
	return wmtsLayer{}, unfit("set layer to one of them", "it has no layer %s but %s", quote(name), list(names))
}

// fit gives the source with the addresses of the document.
func (d *wmtsDocument) fit(src source.Source, at *url.URL) (source.Source, error) {
	l, err := d.layer(src.Layer)
	if err != nil {
		return src, err
	}
	w := wmtsRequest{document: d, layer: l}
	if w.style, err = l.style(src.Style); err != nil {
		return src, err
	}
	if w.format, err = chooseFormat(src.Format, l.Formats); err != nil {
		return src, err
	}
	var g grid
	if w.set, g, err = d.grid(l, src); err != nil {
		return src, err
	}
	src.Matrix, src.Limits = g.names, g.limits
	template, err := w.template(src)
	if err != nil {
		return src, err
	}
	template, err = allowed(src, at, template)
	src.Templates = []string{template}
	return src, err
}

func (l wmtsLayer) style(name string) (string, error) {
	var names []string
	chosen := ""
	for i, s := range l.Styles {
		names = append(names, s.ID)
		if i == 0 || s.Default == "true" || s.Default == "1" {
			chosen = s.ID
		}
		if s.ID == name {
			return name, nil
		}
	}
	if name != "" {
		return "", unfit("set style to one of them, or leave it out", "layer %s has no style %s but %s", quote(l.ID), quote(name), list(names))
	}
	return chosen, nil
}

// chooseFormat is the one that is named, else the first that can be used.
func chooseFormat(name string, offered []string) (string, error) {
	for _, f := range offered {
		f = strings.TrimSpace(f)
		if name != "" && strings.EqualFold(f, name) || name == "" && source.GoodFormat(f) {
			return f, nil
		}
	}
	if name != "" {
		return "", unfit("set format to one of them, or leave it out", "it has no format %s but %s", quote(name), list(offered))
	}
	return "", unfit("a base map needs png, jpeg or webp: choose another layer", "its formats are %s", list(offered))
}

// grid finds the tile matrix set that is Web Mercator and has the stated zooms
// and size of tiles.
func (d *wmtsDocument) grid(l wmtsLayer, src source.Source) (string, grid, error) {
	var why, names []string
	for i, link := range l.Links {
		names = append(names, link.Set)
		if src.MatrixSet != "" && link.Set != src.MatrixSet {
			continue
		}
		g, words := d.set(link.Set, l.limits(i), src.TileSize)
		if words == "" {
			words = g.lacks(src.Zooms)
		}
		if words == "" {
			return link.Set, g, nil
		}
		why = append(why, quote(link.Set)+": "+words)
	}
	if len(why) == 0 {
		return "", grid{}, unfit("set matrix_set to one of them, or leave it out", "layer %s has no tile matrix set %s but %s", quote(l.ID), quote(src.MatrixSet), list(names))
	}
	return "", grid{}, unfit("correct zooms and tile_size, or choose another matrix_set",
		"no tile matrix set of layer %s has Web Mercator's zooms %d to %d with %d-pixel tiles: %s", quote(l.ID), src.Zooms.Min, src.Zooms.Max, src.TileSize, strings.Join(why, "; "))
}

func (d *wmtsDocument) set(name string, limits []limit, size int) (grid, string) {
	for _, s := range d.Sets {
		switch {
		case s.ID != name:
		case !mercator(s.CRS):
			return grid{}, "its reference system is " + quote(s.CRS)
		default:
			return fit(s.matrices(), limits, size), ""
		}
	}
	return grid{}, "it is not in the document"
}

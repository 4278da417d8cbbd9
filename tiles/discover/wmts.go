package discover

import (
	"encoding/xml"
	"fmt"
	"math"
	"net/url"
	"slices"
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
	if words, is := exceptionText(data); is {
		return nil, fmt.Errorf("the service says: %s", words)
	}
	var d wmtsDocument
	if err := readXML(data, &d); err != nil {
		return nil, fmt.Errorf("it cannot be read as XML: %s", oneLine(err.Error(), 160))
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

// matrices are the numbers of the set; invalid ones become NaN or -1, which fit
// nowhere.
func (s wmtsSet) matrices() (out []matrix) {
	for _, m := range s.Matrices {
		corner := append(strings.Fields(m.Corner), "", "")
		out = append(out, matrix{
			name: m.ID, scale: parseFloat(m.Scale), left: parseFloat(corner[0]), top: parseFloat(corner[1]),
			width: int(parseInt(m.Width)), height: int(parseInt(m.Height)), columns: parseInt(m.Columns), rows: parseInt(m.Rows),
		})
	}
	return out
}

// limits are those of the layer's i-th link.
func (l wmtsLayer) limits(i int) (out []matrixLimit) {
	for _, m := range l.Links[i].Limits {
		out = append(out, matrixLimit{m.Matrix, parseInt(m.MinRow), parseInt(m.MaxRow), parseInt(m.MinCol),
			parseInt(m.MaxCol)})
	}
	return out
}

// bounds is the ground of the layer, nil if it does not say.
func (l wmtsLayer) bounds() *tiles.Box {
	return boxOf(append(strings.Fields(l.Lower), strings.Fields(l.Upper)...)...)
}

func boxOf(texts ...string) *tiles.Box {
	var v []float64
	for _, text := range texts {
		v = append(v, parseFloat(text))
	}
	return box(v...)
}

// parseFloat is NaN if the text is not a number.
func parseFloat(s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// parseInt is -1 if the text is not a whole number.
func parseInt(s string) int64 {
	v, err := strconv.ParseInt(strings.TrimSpace(s), 10, 64)
	if err != nil {
		return -1
	}
	return v
}

// layer is the one of a name, or the only one.
func (d *wmtsDocument) layer(name string) (wmtsLayer, error) {
	return pick(d.Layers, func(l wmtsLayer) string { return l.ID }, "layer", name)
}

func (d *wmtsDocument) fit(src source.Source, at *url.URL) (source.Source, error) {
	l, err := d.layer(src.Layer)
	if err != nil {
		return src, err
	}
	style, err := l.style(src.Style)
	if err != nil {
		return src, err
	}
	format, err := chooseFormat(src.Format, l.Formats)
	if err != nil {
		return src, err
	}
	set, g, err := d.grid(l, src)
	if err != nil {
		return src, err
	}
	src.Matrix, src.Limits = g.names, g.limits
	template, err := d.template(src, at, l, style, format, set)
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
		return "", unfit("set style to one of them, or leave it out", "layer %s has no style %s but %s",
			quote(l.ID), quote(name), list(names))
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
		return "", unfit("set format to one of them, or leave it out", "it has no format %s but %s",
			quote(name), list(offered))
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
		return "", grid{}, unfit("set matrix_set to one of them, or leave it out",
			"layer %s has no tile matrix set %s but %s", quote(l.ID), quote(src.MatrixSet), list(names))
	}
	return "", grid{}, unfit("correct zooms and tile_size, or choose another matrix_set",
		"no tile matrix set of layer %s has Web Mercator's zooms %d to %d with %d-pixel tiles: %s", quote(l.ID),
		src.Zooms.Min, src.Zooms.Max, src.TileSize, strings.Join(why, "; "))
}

func (d *wmtsDocument) set(name string, limits []matrixLimit, size int) (grid, string) {
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

// template is the address of a tile: the resource URL of the layer, which every
// cache understands, else the parameters of GetTile.
func (d *wmtsDocument) template(src source.Source, at *url.URL, l wmtsLayer, style, format,
	set string) (string, error) {
	for _, r := range l.Resources {
		if r.Type != "tile" || !strings.EqualFold(strings.TrimSpace(r.Format), format) {
			continue
		}
		// Variables of a resource URL: OGC 07-057r7, Table 32.
		ours := map[string]string{"tilematrix": "{matrix}", "tilerow": "{y}", "tilecol": "{x}"}
		return ourTemplate(src, at, r.Template, ours, func(name string) (string, bool) {
			switch strings.ToLower(name) {
			case "style":
				return style, true
			case "tilematrixset":
				return set, true
			case "layer":
				return l.ID, true
			}
			return l.dimension(name)
		})
	}
	address, ok := d.getTile()
	if !ok {
		address = src.URL // the operator stated the service itself
	}
	parameters := []string{"SERVICE=WMTS", "REQUEST=GetTile", "VERSION=1.0.0", "LAYER=" + escape(l.ID),
		"STYLE=" + escape(style), "FORMAT=" + escape(format)}
	for _, dimension := range l.Dimensions {
		v, ok := l.dimension(dimension.ID)
		if !ok {
			return "", unfit("tell the provider, or write the address as kind xyz",
				"the document does not say what dimension %s may be", quote(dimension.ID))
		}
		parameters = append(parameters, escape(dimension.ID)+"="+escape(v))
	}
	parameters = append(parameters, "TILEMATRIXSET="+escape(set), "TILEMATRIX={matrix}", "TILEROW={y}", "TILECOL={x}")
	return allowed(src, at, withParameters(withStated(src.URL, src.TakeKey(address)), parameters...))
}

// dimension is the default of a dimension, such as the newest time.
func (l wmtsLayer) dimension(name string) (string, bool) {
	for _, d := range l.Dimensions {
		if !strings.EqualFold(d.ID, name) {
			continue
		}
		if v := strings.TrimSpace(d.Default); v != "" {
			return v, true
		}
		if len(d.Values) > 0 {
			return strings.TrimSpace(d.Values[0]), true
		}
	}
	return "", false
}

// getTile is where tiles are asked for by parameters, if the document names it.
func (d *wmtsDocument) getTile() (string, bool) {
	for _, o := range d.Operations {
		if o.Name != "GetTile" {
			continue
		}
		for _, g := range o.Gets {
			kvp := len(g.Constraints) == 0
			for _, c := range g.Constraints {
				kvp = kvp || strings.EqualFold(c.Name, "GetEncoding") &&
					slices.ContainsFunc(c.Values, func(v string) bool { return strings.EqualFold(strings.TrimSpace(v), "KVP") })
			}
			if kvp && g.Href != "" {
				return g.Href, true
			}
		}
	}
	return "", false
}

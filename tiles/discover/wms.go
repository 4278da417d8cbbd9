package discover

import (
	"context"
	"encoding/xml"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// wmsDocument is what is read of WMS capabilities: 1.3.0 (OGC 06-042) and 1.1.1
// (OGC 01-068r3).
type wmsDocument struct {
	XMLName xml.Name
	Version string   `xml:"version,attr"`
	Title   string   `xml:"Service>Title"`
	Most    string   `xml:"Service>LayerLimit"`
	Width   string   `xml:"Service>MaxWidth"`
	Height  string   `xml:"Service>MaxHeight"`
	Formats []string `xml:"Capability>Request>GetMap>Format"`
	GetMap  struct {
		Href string `xml:"href,attr"`
	} `xml:"Capability>Request>GetMap>DCPType>HTTP>Get>OnlineResource"`
	Layers []wmsLayer `xml:"Capability>Layer"`
}

type wmsLayer struct {
	Name   string   `xml:"Name"`
	Title  string   `xml:"Title"`
	CRS    []string `xml:"CRS"`
	SRS    []string `xml:"SRS"` // 1.1.1; older ones list several in one
	Styles []struct {
		Name string `xml:"Name"`
	} `xml:"Style"`
	Ground struct { // 1.3.0
		West  string `xml:"westBoundLongitude"`
		East  string `xml:"eastBoundLongitude"`
		South string `xml:"southBoundLatitude"`
		North string `xml:"northBoundLatitude"`
	} `xml:"EX_GeographicBoundingBox"`
	LatLon struct { // 1.1.1
		West  string `xml:"minx,attr"`
		South string `xml:"miny,attr"`
		East  string `xml:"maxx,attr"`
		North string `xml:"maxy,attr"`
	} `xml:"LatLonBoundingBox"`
	Attribution string     `xml:"Attribution>Title"`
	Layers      []wmsLayer `xml:"Layer"`
}

func parseWMS(data []byte) (*wmsDocument, error) {
	if words, is := said(data); is {
		return nil, fmt.Errorf("the service says: %s", words)
	}
	var d wmsDocument
	if err := readXML(data, &d); err != nil {
		return nil, fmt.Errorf("it cannot be read as XML: %s", plain(err.Error(), 160))
	}
	switch {
	case d.XMLName.Local != "WMS_Capabilities" && d.XMLName.Local != "WMT_MS_Capabilities":
		return nil, fmt.Errorf("it is a document of %s, not WMS_Capabilities", quote(d.XMLName.Local))
	case d.Version != "1.3.0" && d.Version != "1.1.1":
		return nil, fmt.Errorf("its version is %s, not 1.3.0 or 1.1.1", quote(d.Version))
	}
	d.Layers = flat(d.Layers, wmsLayer{})
	if len(d.Layers) == 0 {
		return nil, fmt.Errorf("it has no layer that can be asked for")
	}
	return &d, nil
}

// flat lists the layers that have a name, with what they inherit from the ones
// they are in (OGC 06-042, Table 7).
func flat(layers []wmsLayer, above wmsLayer) (out []wmsLayer) {
	for _, l := range layers {
		l.CRS = append(slices.Clone(above.CRS), l.CRS...)
		for _, s := range l.SRS {
			l.CRS = append(l.CRS, strings.Fields(s)...)
		}
		l.Styles = append(slices.Clone(above.Styles), l.Styles...)
		if l.Ground.West == "" {
			l.Ground = above.Ground
		}
		if l.LatLon.West == "" {
			l.LatLon = above.LatLon
		}
		if l.Attribution == "" {
			l.Attribution = above.Attribution
		}
		inner := l.Layers
		l.Layers, l.SRS = nil, nil
		if l.Name != "" {
			out = append(out, l)
		}
		out = append(out, flat(inner, l)...)
	}
	return out
}

// bounds is the ground of the layer, nil when it does not say.
func (l wmsLayer) bounds() *tiles.Box {
	if b := box([]float64{float(l.Ground.West), float(l.Ground.South), float(l.Ground.East), float(l.Ground.North)}); b != nil {
		return b
	}
	return box([]float64{float(l.LatLon.West), float(l.LatLon.South), float(l.LatLon.East), float(l.LatLon.North)})
}

func (a *asker) wms(ctx context.Context) (source.Source, error) {
	version := a.src.Version
	if version == "" {
		version = "1.3.0"
	}
	doc, err := a.capabilities(ctx, "WMS", version)
	if err != nil {
		return a.src, err
	}
	d, err := parseWMS(doc.data)
	if err != nil {
		return a.src, a.failed(a.src.URL, "no WMS capabilities", err, "give the address of a WMS service, or ask what it is with groundsheet source add")
	}
	return d.fit(a.src, doc.at)
}

// fit gives the source with the addresses of the document.
func (d *wmsDocument) fit(src source.Source, at *url.URL) (source.Source, error) {
	if src.Version != "" && src.Version != d.Version {
		return src, unfit("set version = \""+d.Version+"\", or leave it out", "it speaks version %s, and %s is stated", d.Version, src.Version)
	}
	layers, err := d.chosen(src.Layer)
	if err != nil {
		return src, err
	}
	styles, err := chosenStyles(src.Style, layers)
	if err != nil {
		return src, err
	}
	format, err := chooseFormat(src.Format, d.Formats)
	if err != nil {
		return src, err
	}
	crs, err := d.crs(src, layers)
	if err != nil {
		return src, err
	}
	if err := d.room(src, len(layers)); err != nil {
		return src, err
	}
	src.Version = d.Version
	address := d.GetMap.Href
	if address == "" {
		address = src.URL
	}
	template, err := allowed(src, at, ask(carry(src.URL, src.TakeKey(address)), d.parameters(src.Layer, styles, crs, format)...))
	src.Templates = []string{template}
	return src, err
}

// parameters are those of GetMap in the order of OGC 06-042, Table 8.
// EXCEPTIONS is left at its default, XML: a picture with words of an error in
// it could be taken for a tile.
func (d *wmsDocument) parameters(layers, styles, crs, format string) []string {
	system := "CRS="
	if d.Version == "1.1.1" {
		system = "SRS="
	}
	out := []string{"SERVICE=WMS", "VERSION=" + d.Version, "REQUEST=GetMap", "LAYERS=" + escape(layers), "STYLES=" + escape(styles), system + crs,
		"BBOX={bbox}", "WIDTH={pixels}", "HEIGHT={pixels}", "FORMAT=" + escape(format)}
	if kind := strings.ToLower(format); strings.Contains(kind, "png") || strings.Contains(kind, "webp") {
		out = append(out, "TRANSPARENT=TRUE") // where there is no imagery there is nothing, not white
	}
	return out
}

func (d *wmsDocument) chosen(names string) (out []wmsLayer, err error) {
	for name := range strings.SplitSeq(names, ",") {
		i := slices.IndexFunc(d.Layers, func(l wmsLayer) bool { return l.Name == name })
		if i < 0 {
			var known []string
			for _, l := range d.Layers {
				known = append(known, l.Name)
			}
			return nil, unfit("set layer to one of them, or several with commas and no spaces", "it has no layer %s but %s", quote(name), list(known))
		}
		out = append(out, d.Layers[i])
	}
	return out, nil
}

// chosenStyles checks one style for each layer; "" leaves all at their default.
func chosenStyles(stated string, layers []wmsLayer) (string, error) {
	if stated == "" {
		return "", nil
	}
	names := strings.Split(stated, ",")
	if len(names) != len(layers) {
		return "", unfit("name one style for each layer, or leave style out", "%d styles are stated for %d layers", len(names), len(layers))
	}
	for i, name := range names {
		var known []string
		for _, s := range layers[i].Styles {
			known = append(known, s.Name)
		}
		if name != "" && !slices.Contains(known, name) {
			return "", unfit("set style to one of them, or leave it out", "layer %s has no style %s but %s", quote(layers[i].Name), quote(name), list(known))
		}
	}
	return stated, nil
}

// crs is the name under which the service knows the reference system.
func (d *wmsDocument) crs(src source.Source, layers []wmsLayer) (string, error) {
	wanted := []string{src.CRS}
	if src.CRS == "" || mercator(src.CRS) {
		wanted = []string{source.WebMercator, "EPSG:900913", "EPSG:102100", "EPSG:102113"}
	}
	for _, name := range wanted {
		if !slices.ContainsFunc(layers, func(l wmsLayer) bool { return !slices.Contains(l.CRS, name) }) {
			return name, nil
		}
	}
	var common []string
	for _, c := range layers[0].CRS {
		if !slices.Contains(common, c) {
			common = append(common, c)
		}
	}
	remedy := "choose another layer or service"
	if slices.Contains(common, "EPSG:4326") {
		remedy = `set crs = "EPSG:4326", which is as good from zoom 12 on`
	}
	return "", unfit(remedy, "layer %s cannot be drawn in %s but in %s", quote(src.Layer), wanted[0], list(common))
}

// room checks what the service says of the largest request.
func (d *wmsDocument) room(src source.Source, layers int) error {
	side := int64(max(src.Metatile, 1) * src.TileSize)
	for _, most := range []int64{whole(d.Width), whole(d.Height)} {
		if most > 0 && side > most {
			return unfit("set a smaller metatile", "it draws at most %d pixels a side, and metatile asks for %d", most, side)
		}
	}
	if most := whole(d.Most); most > 0 && int64(layers) > most {
		return unfit("name fewer layers", "it draws at most %d layers at once", most)
	}
	return nil
}

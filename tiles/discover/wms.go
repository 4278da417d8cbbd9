package discover

import (
	"cmp"
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
	if words, is := exceptionText(data); is {
		return nil, fmt.Errorf("the service says: %s", words)
	}
	var d wmsDocument
	if err := readXML(data, &d); err != nil {
		return nil, fmt.Errorf("it cannot be read as XML: %s", oneLine(err.Error(), 160))
	}
	switch {
	case d.XMLName.Local != "WMS_Capabilities" && d.XMLName.Local != "WMT_MS_Capabilities":
		return nil, fmt.Errorf("it is a document of %s, not WMS_Capabilities", quote(d.XMLName.Local))
	case d.Version != "1.3.0" && d.Version != "1.1.1":
		return nil, fmt.Errorf("its version is %s, not 1.3.0 or 1.1.1", quote(d.Version))
	}
	d.Layers = flatten(d.Layers, wmsLayer{})
	if len(d.Layers) == 0 {
		return nil, fmt.Errorf("it has no layer that can be asked for")
	}
	return &d, nil
}

// flatten lists the layers that have a name, with what they inherit from the ones
// they are in (OGC 06-042, Table 7).
func flatten(layers []wmsLayer, above wmsLayer) (out []wmsLayer) {
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
		out = append(out, flatten(inner, l)...)
	}
	return out
}

// bounds is the ground of the layer, nil if it does not say.
func (l wmsLayer) bounds() *tiles.Box {
	return cmp.Or(boxOf(l.Ground.West, l.Ground.South, l.Ground.East, l.Ground.North),
		boxOf(l.LatLon.West, l.LatLon.South, l.LatLon.East, l.LatLon.North))
}

func (d *wmsDocument) fit(src source.Source, at *url.URL) (source.Source, error) {
	if src.Version != "" && src.Version != d.Version {
		return src, unfit("set version = \""+d.Version+"\", or leave it out", "it speaks version %s, and %s is stated",
			d.Version, src.Version)
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
	if err := d.checkSize(src, len(layers)); err != nil {
		return src, err
	}
	src.Version = d.Version
	address := withStated(src.URL, src.TakeKey(cmp.Or(d.GetMap.Href, src.URL)))
	template, err := allowed(src, at, withParameters(address, d.parameters(src.Layer, styles, crs, format)...))
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
	out := []string{"SERVICE=WMS", "VERSION=" + d.Version, "REQUEST=GetMap", "LAYERS=" + escape(layers),
		"STYLES=" + escape(styles), system + crs,
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
			return nil, unfit("set layer to one of them, or several with commas and no spaces",
				"it has no layer %s but %s", quote(name), list(known))
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
		return "", unfit("name one style for each layer, or leave style out", "%d styles are stated for %d layers",
			len(names), len(layers))
	}
	for i, name := range names {
		var known []string
		for _, s := range layers[i].Styles {
			known = append(known, s.Name)
		}
		if name != "" && !slices.Contains(known, name) {
			return "", unfit("set style to one of them, or leave it out", "layer %s has no style %s but %s",
				quote(layers[i].Name), quote(name), list(known))
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

// checkSize checks what the service says of the largest request.
func (d *wmsDocument) checkSize(src source.Source, layers int) error {
	side := int64(max(src.Metatile, 1) * src.TileSize)
	for _, most := range []int64{parseInt(d.Width), parseInt(d.Height)} {
		if most > 0 && side > most {
			return unfit("set a smaller metatile", "it draws at most %d pixels a side, and metatile asks for %d", most, side)
		}
	}
	if most := parseInt(d.Most); most > 0 && int64(layers) > most {
		return unfit("name fewer layers", "it draws at most %d layers at once", most)
	}
	return nil
}

func (d *wmsDocument) offers(_ context.Context, s *session, at *url.URL) ([]Offer, error) {
	draft := s.src
	if draft.Layer == "" && len(d.Layers) > 1 {
		var out []Offer
		for _, l := range d.Layers {
			src := draft
			src.Kind, src.Layer = source.KindWMS, l.Name
			out = append(out, Offer{Source: src, Title: oneLine(l.Title, 200)})
		}
		return out, nil
	}
	src := draft
	src.Kind, src.Layer, src.Version = source.KindWMS, cmp.Or(draft.Layer, d.Layers[0].Name), d.Version
	src.TileSize = cmp.Or(draft.TileSize, 256)
	layers, err := d.chosen(src.Layer)
	if err != nil {
		return nil, err
	}
	if src.Format, err = chooseFormat(draft.Format, d.Formats); err != nil {
		return nil, err
	}
	src.Bounds, src.Attribution = layers[0].bounds(), plainText(layers[0].Attribution)
	offer := Offer{Title: oneLine(layers[0].Title, 200), Whole: true}
	shallowest := 0
	if _, err := d.crs(src, layers); err != nil && draft.CRS == "" && slices.Contains(layers[0].CRS, "EPSG:4326") {
		src.CRS, shallowest = "EPSG:4326", 12
		offer.addNote("it does not draw in Web Mercator; in degrees it is as good from zoom 12 on")
	}
	if src.Zooms == (tiles.Zooms{}) {
		src.Zooms = tiles.Zooms{Min: shallowest, Max: 22}
		offer.addNote("a WMS service draws at every zoom: beyond the sharpness of its pictures it only magnifies; state ground_resolution when you know it")
	}
	offer.Source = src
	_, err = d.fit(src, at)
	return []Offer{offer}, err
}

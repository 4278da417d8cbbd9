package discover

import (
	"math"
	"slices"
	"strings"

	"groundsheet/tiles/source"
)

func nan() float64 { return math.NaN() }

// wmtsRequest is what a tile is asked for with.
type wmtsRequest struct {
	document           *wmtsDocument
	layer              wmtsLayer
	style, format, set string
}

// template is the address of a tile: the resource URL of the layer, which every
// cache understands, else the parameters of GetTile.
func (w wmtsRequest) template(src source.Source) (string, error) {
	for _, r := range w.layer.Resources {
		if r.Type == "tile" && strings.EqualFold(strings.TrimSpace(r.Format), w.format) {
			return translate(src.TakeKey(r.Template), w.variable)
		}
	}
	address, ok := w.document.getTile()
	if !ok {
		address = src.URL // the operator gave the service itself
	}
	parameters := []string{"SERVICE=WMTS", "REQUEST=GetTile", "VERSION=1.0.0", "LAYER=" + escape(w.layer.ID), "STYLE=" + escape(w.style),
		"FORMAT=" + escape(w.format)}
	for _, d := range w.layer.Dimensions {
		v, err := w.dimension(d.ID)
		if err != nil {
			return "", err
		}
		parameters = append(parameters, escape(d.ID)+"="+escape(v))
	}
	parameters = append(parameters, "TILEMATRIXSET="+escape(w.set), "TILEMATRIX={matrix}", "TILEROW={y}", "TILECOL={x}")
	return ask(carry(src.URL, src.TakeKey(address)), parameters...), nil
}

// variable gives what stands for a variable of a resource URL (OGC 07-057r7,
// Table 32).
func (w wmtsRequest) variable(name string) (string, bool, error) {
	switch strings.ToLower(name) {
	case "style":
		return w.style, true, nil
	case "tilematrixset":
		return w.set, true, nil
	case "layer":
		return w.layer.ID, true, nil
	case "tilematrix":
		return "{matrix}", false, nil
	case "tilerow":
		return "{y}", false, nil
	case "tilecol":
		return "{x}", false, nil
	}
	v, err := w.dimension(name)
	return v, true, err
}

// dimension is the default of a dimension, such as the newest time.
func (w wmtsRequest) dimension(name string) (string, error) {
	for _, d := range w.layer.Dimensions {
		if !strings.EqualFold(d.ID, name) {
			continue
		}
		if v := strings.TrimSpace(d.Default); v != "" {
			return v, nil
		}
		if len(d.Values) > 0 {
			return strings.TrimSpace(d.Values[0]), nil
		}
	}
	return "", unfit("tell the provider, or write the address as kind xyz", "its address has {%s}, and the document does not say what that may be", plain(name, 40))
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
				kvp = kvp || strings.EqualFold(c.Name, "GetEncoding") && slices.ContainsFunc(c.Values, func(v string) bool { return strings.EqualFold(strings.TrimSpace(v), "KVP") })
			}
			if kvp && g.Href != "" {
				return g.Href, true
			}
		}
	}
	return "", false
}

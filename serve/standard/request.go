package standard

import (
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
)

// Request is a WMTS request in names and values.
type Request struct {
	Capabilities bool // GetCapabilities; else GetTile, with what follows
	Layer        Layer
	Tile         tiles.ID
}

// tileParameters are those that a GetTile has to have, in the order of OGC
// 07-057r7, table 29.
var tileParameters = []string{"Version", "Layer", "Style", "Format", "TileMatrixSet", "TileMatrix", "TileRow", "TileCol"}

// Parse reads a WMTS request (OGC 07-057r7, 7.1.1, 7.2.1 and 8). Names may be
// written in any case, values may not; what is not known is ignored. The error
// is a [Report].
func (s Service) Parse(query url.Values) (Request, error) {
	values, err := fold(query)
	if err != nil {
		return Request{}, err
	}
	if err := wanted(values, "Service", "Request"); err != nil {
		return Request{}, err
	}
	if values["service"] != "WMTS" {
		return Request{}, report(InvalidParameterValue, "Service", "this is a service of WMTS")
	}
	switch values["request"] {
	case "GetCapabilities":
		return Request{Capabilities: true}, negotiate(values)
	case "GetTile":
		return s.parseTile(values)
	}
	return Request{}, report(OperationNotSupported, values["request"], "the operations here are GetCapabilities and GetTile")
}

// fold gives the parameters by their names in small letters. One given twice
// with two values is refused: nobody could tell which is meant.
func fold(query url.Values) (map[string]string, error) {
	values := map[string]string{}
	for name, all := range query {
		name = strings.ToLower(name)
		for _, v := range all {
			if was, twice := values[name]; twice && was != v && isKnown(name) {
				return nil, report(InvalidParameterValue, name, "it is given twice")
			}
			values[name] = v
		}
	}
	return values, nil
}

func isKnown(name string) bool {
	return name == "service" || name == "request" || slices.ContainsFunc(tileParameters, func(p string) bool { return strings.EqualFold(p, name) })
}

// wanted refuses a request that lacks parameters, and names them all.
func wanted(values map[string]string, names ...string) error {
	var lacking Report
	for _, name := range names {
		if values[strings.ToLower(name)] == "" {
			lacking = append(lacking, Exception{MissingParameterValue, name, "the request lacks " + name})
		}
	}
	if lacking == nil {
		return nil
	}
	return lacking
}

// negotiate looks whether a version that the client takes is there (OGC
// 06-121r3, 7.3.2).
func negotiate(values map[string]string) error {
	accepted := values["acceptversions"]
	if accepted == "" || slices.Contains(strings.Split(accepted, ","), "1.0.0") {
		return nil
	}
	return report(VersionNegotiationFailed, "", "the version here is 1.0.0")
}

// defaultStyle is the only style there is.
const defaultStyle = "default"

func (s Service) parseTile(values map[string]string) (q Request, err error) {
	if err := wanted(values, tileParameters...); err != nil {
		return q, err
	}
	if values["version"] != "1.0.0" {
		return q, report(InvalidParameterValue, "Version", "the version here is 1.0.0")
	}
	layer, ok := s.Find(values["layer"])
	if !ok {
		return q, report(InvalidParameterValue, "Layer", "there is no such layer")
	}
	if values["style"] != defaultStyle {
		return q, report(InvalidParameterValue, "Style", "the style here is %s", defaultStyle)
	}
	if values["format"] != layer.Media {
		return q, report(InvalidParameterValue, "Format", "layer %s has format %s alone", layer.ID, layer.Media)
	}
	q = Request{Layer: layer}
	q.Tile, err = layer.At(values["tilematrixset"], values["tilematrix"], values["tilerow"], values["tilecol"])
	return q, err
}

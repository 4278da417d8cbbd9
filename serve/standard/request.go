package standard

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
)

// request is a WMTS request in names and values.
type request struct {
	Capabilities bool // GetCapabilities; else GetTile, with what follows
	Layer        layer
	Tile         tiles.ID
}

// tileParameters are those that a GetTile has to have, in the order of OGC
// 07-057r7, table 29.
var tileParameters = []string{"Version", "Layer", "Style", "Format", "TileMatrixSet", "TileMatrix",
	"TileRow", "TileCol"}

// Parse reads a WMTS request (OGC 07-057r7, 7.1.1, 7.2.1 and 8). Names may be
// written in any case, values may not; what is not known is ignored. The error
// is a [exceptionReport].
func (s service) Parse(query url.Values) (request, error) {
	values, err := fold(query)
	if err != nil {
		return request{}, err
	}
	if err := requireAll(values, "Service", "Request"); err != nil {
		return request{}, err
	}
	if values["service"] != "WMTS" {
		return request{}, report(invalidParameterValue, "Service", "this is a service of WMTS")
	}
	switch values["request"] {
	case "GetCapabilities":
		return request{Capabilities: true}, negotiate(values)
	case "GetTile":
		return s.parseTile(values)
	}
	return request{}, report(operationNotSupported, values["request"],
		"the operations here are GetCapabilities and GetTile")
}

// fold gives the parameters by their names in lower case. One that is given two values
// is an error: nobody could tell which is meant.
func fold(query url.Values) (map[string]string, error) {
	values := map[string]string{}
	for name, all := range query {
		name = strings.ToLower(name)
		for _, v := range all {
			if was, twice := values[name]; twice && was != v && isParameter(name) {
				return nil, report(invalidParameterValue, name, "it is given twice")
			}
			values[name] = v
		}
	}
	return values, nil
}

func isParameter(name string) bool {
	same := func(p string) bool { return strings.EqualFold(p, name) }
	return name == "service" || name == "request" || slices.ContainsFunc(tileParameters, same)
}

// requireAll reports all parameters that a request lacks.
func requireAll(values map[string]string, names ...string) error {
	var lacking exceptionReport
	for _, name := range names {
		if values[strings.ToLower(name)] == "" {
			lacking = append(lacking, exception{missingParameterValue, name, "the request lacks " + name})
		}
	}
	if lacking == nil {
		return nil
	}
	return lacking
}

// negotiate checks that the client accepts the version here (OGC 06-121r3, 7.3.2).
func negotiate(values map[string]string) error {
	accepted := values["acceptversions"]
	if accepted == "" || slices.Contains(strings.Split(accepted, ","), "1.0.0") {
		return nil
	}
	return report(versionNegotiationFailed, "", "the version here is 1.0.0")
}

// defaultStyle is the only style there is.
const defaultStyle = "default"

func (s service) parseTile(values map[string]string) (q request, err error) {
	if err := requireAll(values, tileParameters...); err != nil {
		return q, err
	}
	if values["version"] != "1.0.0" {
		return q, report(invalidParameterValue, "Version", "the version here is 1.0.0")
	}
	layer, ok := s.Find(values["layer"])
	if !ok {
		return q, report(invalidParameterValue, "Layer", "there is no such layer")
	}
	if values["style"] != defaultStyle {
		return q, report(invalidParameterValue, "Style", "the style here is %s", defaultStyle)
	}
	if values["format"] != layer.Media {
		return q, report(invalidParameterValue, "Format", "layer %s has format %s alone", layer.ID, layer.Media)
	}
	q = request{Layer: layer}
	q.Tile, err = layer.At(values["tilematrixset"], values["tilematrix"], values["tilerow"], values["tilecol"])
	return q, err
}

// Codes of exceptions (OGC 07-057r7, tables 21, 26 and 27).
const (
	operationNotSupported    = "OperationNotSupported"
	missingParameterValue    = "MissingParameterValue"
	invalidParameterValue    = "InvalidParameterValue"
	versionNegotiationFailed = "VersionNegotiationFailed"
	tileOutOfRange           = "TileOutOfRange"
)

// exception is one thing that is wrong with a request.
type exception struct {
	Code    string
	Locator string // the parameter or the operation; "" = none
	Text    string
}

// exceptionReport is what is wrong with a request; there is at least one exception.
type exceptionReport []exception

func report(code, locator, format string, args ...any) exceptionReport {
	return exceptionReport{{code, locator, fmt.Sprintf(format, args...)}}
}

func (r exceptionReport) Error() string { return r[0].Locator + ": " + r[0].Text }

// Status is the HTTP status of the first exception. That of tileOutOfRange is
// from common practice; the others are in the tables of OGC 07-057r7.
func (r exceptionReport) Status() int {
	if r[0].Code == operationNotSupported {
		return http.StatusNotImplemented
	}
	return http.StatusBadRequest
}

// XML is the report (OGC 06-121r3, 8: OWS 1.1 ExceptionReport).
func (r exceptionReport) XML() ([]byte, error) { return fillXML("exceptions", r) }

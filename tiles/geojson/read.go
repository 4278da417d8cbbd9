package geojson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"unicode/utf8"

	"github.com/paulmach/orb"
)

// Feature is one thing with a shape, in degrees of WGS 84 (longitude, latitude).
type Feature struct {
	Geometry   orb.Geometry   // nil when the text says null: the place is not known
	Properties map[string]any // as encoding/json decodes it; see [Read] for numbers
	ID         string         // "" when there is none; a number is kept as its text
	Place      string         // "feature 3", "feature" or "geometry", for messages
}

// Read reads a FeatureCollection, a Feature or a bare geometry (one feature
// without properties). A UTF-8 byte order mark is passed over. The error is a
// [*fault.Fault].
//
// Numbers in properties are float64, or json.Number where float64 would lose
// digits of a whole number or cannot hold the value.
func Read(data []byte) ([]Feature, error) {
	data, err := text(data)
	if err != nil {
		return nil, err
	}
	o, err := decode(data, "file")
	if err != nil {
		return nil, err
	}
	kind, err := o.kind("file")
	if err != nil {
		return nil, err
	}
	r := reader{unreadable: map[int]pair{}}
	switch kind {
	case "FeatureCollection":
		return r.collection(o)
	case "Feature":
		f, err := r.feature(o, "feature")
		if err != nil {
			return nil, err
		}
		return []Feature{f}, nil
	}
	g, err := r.geometry(o, kind, "geometry", false)
	if err != nil {
		return nil, err
	}
	return []Feature{{Geometry: g, Place: "geometry"}}, nil
}

// text checks that data is one JSON value in UTF-8, and takes off the byte order mark.
func text(data []byte) ([]byte, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, refuse(RuleEmpty, "file", "the file is empty", "export the shapes again")
	}
	if !utf8.Valid(data) {
		at := 0
		for at < len(data) {
			r, size := utf8.DecodeRune(data[at:])
			if r == utf8.RuneError && size == 1 {
				break
			}
			at += size
		}
		return nil, refuse(RuleEncoding, position(data, at), "not UTF-8 text", "save the file as UTF-8")
	}
	if json.Valid(data) {
		return data, nil
	}
	err, place := json.Unmarshal(data, &json.RawMessage{}), "file"
	if syntax, ok := errors.AsType[*json.SyntaxError](err); ok {
		place = position(data, int(syntax.Offset))
	}
	return nil, refuse(RuleJSON, place, "not JSON: "+err.Error(), "export the file again as GeoJSON")
}

// position names a place in a text that could not be read.
func position(data []byte, offset int) string {
	offset = min(offset, len(data))
	return fmt.Sprintf("line %d (byte %d)", 1+bytes.Count(data[:offset], []byte("\n")), offset)
}

// object keeps members by their exact name: GeoJSON names are case-sensitive,
// and the struct decoding of encoding/json is not.
type object map[string]json.RawMessage

func decode(raw json.RawMessage, place string) (object, error) {
	o := object{}
	if trimmed := bytes.TrimSpace(raw); len(trimmed) > 0 && trimmed[0] == '{' {
		for name, value := range members(trimmed) {
			o[name] = value
		}
	} else {
		return nil, refuse(RuleType, place, "not a GeoJSON object but "+sort(raw), "export the file again as GeoJSON")
	}
	if err := checkCRS(o, place); err != nil {
		return nil, err
	}
	return o, nil
}

// sort says in words what kind of JSON value raw is.
func sort(raw json.RawMessage) string {
	raw = bytes.TrimSpace(raw)
	if len(raw) == 0 {
		return "nothing"
	}
	switch raw[0] {
	case '{':
		return "an object"
	case '[':
		return "an array"
	case '"':
		return "a text"
	case 't', 'f':
		return "true or false"
	case 'n':
		return "null"
	}
	return "a number"
}

func (o object) kind(place string) (string, error) {
	raw, ok := o["type"]
	if !ok {
		return "", refuse(RuleType, place, `no member "type"`, "export the file again as GeoJSON")
	}
	var kind string
	if err := json.Unmarshal(raw, &kind); err != nil || kind == "" {
		return "", refuse(RuleType, place, `member "type" is `+sort(raw)+" that names no type",
			"export the file again as GeoJSON")
	}
	return kind, nil
}

// reader counts the positions of one text.
type reader struct {
	converted, positions int          // built, and checked
	unreadable           map[int]pair // by its number in the text, from 1
}

func (r *reader) collection(o object) ([]Feature, error) {
	list, ok := o.array("features")
	if !ok {
		return nil, noFeatures()
	}
	features := []Feature{}
	for raw := range parts(list) {
		if len(features) == MaxPositions {
			return nil, refuse(RuleSize, fmt.Sprintf("feature %d", MaxPositions+1),
				fmt.Sprintf("more than %d features", MaxPositions),
				"split the file")
		}
		place := fmt.Sprintf("feature %d", len(features)+1)
		o, err := decode(raw, place)
		if err != nil {
			return nil, err
		}
		f, err := r.feature(o, place)
		if err != nil {
			return nil, err
		}
		features = append(features, f)
	}
	return features, nil
}

// array gives the text of a member that is an array.
func (o object) array(name string) (raw json.RawMessage, ok bool) {
	raw = bytes.TrimSpace(o[name])
	return raw, len(raw) > 0 && raw[0] == '['
}

func noFeatures() error {
	return refuse(RuleMember, "file", `a FeatureCollection needs a member "features" with an array`,
		"export the file again as GeoJSON")
}

func (r *reader) feature(o object, place string) (Feature, error) {
	kind, err := o.kind(place)
	if err != nil {
		return Feature{}, err
	}
	if kind != "Feature" {
		return Feature{}, refuse(RuleType, place, fmt.Sprintf("type %q where a Feature belongs", kind),
			"a FeatureCollection holds Features only")
	}
	f := Feature{Place: place}
	if f.ID, err = identity(o["id"], place); err != nil {
		return Feature{}, err
	}
	if f.Properties, err = properties(o["properties"], place); err != nil {
		return Feature{}, err
	}
	raw, ok := o["geometry"]
	if !ok {
		return Feature{}, refuse(RuleMember, place, `no member "geometry"`,
			"give a geometry, or null when the place is not known")
	}
	if isNull(raw) {
		return f, nil
	}
	shape, err := decode(raw, place)
	if err != nil {
		return Feature{}, err
	}
	if kind, err = shape.kind(place); err != nil {
		return Feature{}, err
	}
	f.Geometry, err = r.geometry(shape, kind, place, false)
	return f, err
}

func isNull(raw json.RawMessage) bool { return string(bytes.TrimSpace(raw)) == "null" }

package geojson

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// decimals of a degree in what [Write] writes: 0.1 mm on the ground.
const decimals = 9

// Write writes a FeatureCollection, one feature a line. Coordinates have nine
// decimals at most; keys come in one order (members as in RFC 7946, properties
// by name), so that equal features give equal bytes. A coordinate that is not
// a finite number, or a property JSON cannot hold, is an error that names the
// feature.
func Write(w io.Writer, features []Feature) error {
	out := bufio.NewWriter(w)
	out.WriteString(`{"type":"FeatureCollection","features":[`)
	for i, f := range features {
		line, err := appendFeature(nil, f)
		if err != nil {
			return fmt.Errorf("writing feature %d: %w", i+1, err)
		}
		if i > 0 {
			out.WriteByte(',')
		}
		out.WriteByte('\n')
		out.Write(line)
	}
	out.WriteString("\n]}\n")
	return out.Flush() // a failed write is kept by the bufio.Writer until here
}

func appendFeature(b []byte, f Feature) ([]byte, error) {
	b = append(b, `{"type":"Feature"`...)
	if f.ID != "" {
		id, err := marshal(f.ID)
		if err != nil {
			return nil, err
		}
		b = append(append(b, `,"id":`...), id...)
	}
	b = append(b, `,"geometry":`...)
	b, err := appendGeometry(b, f.Geometry)
	if err != nil {
		return nil, err
	}
	properties, err := marshal(f.Properties)
	if err != nil {
		return nil, fmt.Errorf("properties: %w", err)
	}
	b = append(append(b, `,"properties":`...), properties...)
	return append(b, '}'), nil
}

// marshal is json.Marshal without the escapes meant for HTML.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSpace(b.Bytes()), err
}

func appendGeometry(b []byte, g orb.Geometry) ([]byte, error) {
	switch g := g.(type) {
	case nil:
		return append(b, "null"...), nil
	case orb.Point:
		return appendShape(b, g, appendPoint)
	case orb.MultiPoint:
		return appendShape(b, g, appendPoints[orb.MultiPoint])
	case orb.LineString:
		return appendShape(b, g, appendPoints[orb.LineString])
	case orb.MultiLineString:
		return appendShape(b, g, list[orb.MultiLineString](appendPoints[orb.LineString]))
	case orb.Ring:
		return appendGeometry(b, orb.Polygon{g})
	case orb.Bound:
		return appendGeometry(b, g.ToPolygon())
	case orb.Polygon:
		return appendShape(b, g, appendPolygon)
	case orb.MultiPolygon:
		return appendShape(b, g, list[orb.MultiPolygon](appendPolygon))
	case orb.Collection:
		b = append(b, `{"type":"GeometryCollection","geometries":`...)
		b, err := list[orb.Collection](appendGeometry)(b, g)
		return append(b, '}'), err
	}
	return nil, refuse(RuleType, "geometry", fmt.Sprintf("a %T cannot be written", g), "use a geometry that GeoJSON knows")
}

func appendShape[G orb.Geometry](b []byte, g G, coordinates func([]byte, G) ([]byte, error)) ([]byte, error) {
	b = append(append(append(b, `{"type":"`...), g.GeoJSONType()...), `","coordinates":`...)
	b, err := coordinates(b, g)
	return append(b, '}'), err
}

// list writes the elements of a slice as an array.
func list[L ~[]G, G any](one func([]byte, G) ([]byte, error)) func([]byte, L) ([]byte, error) {
	return func(b []byte, all L) ([]byte, error) {
		b = append(b, '[')
		for i, g := range all {
			if i > 0 {
				b = append(b, ',')
			}
			var err error
			if b, err = one(b, g); err != nil {
				return nil, err
			}
		}
		return append(b, ']'), nil
	}
}

func appendPolygon(b []byte, p orb.Polygon) ([]byte, error) {
	return list[orb.Polygon](appendPoints[orb.Ring])(b, p)
}

func appendPoints[L ~[]orb.Point](b []byte, line L) ([]byte, error) {
	return list[L](appendPoint)(b, line)
}

func appendPoint(b []byte, p orb.Point) ([]byte, error) {
	for i, v := range p {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, refuse(RuleNumber, "geometry", fmt.Sprintf("the coordinate %v is not a number", v),
				"give finite degrees")
		}
		b = append(b, "[,"[i])
		b = appendNumber(b, v)
	}
	return append(b, ']'), nil
}

func appendNumber(b []byte, v float64) []byte {
	text := strconv.AppendFloat(nil, v, 'f', decimals, 64)
	text = bytes.TrimRight(bytes.TrimRight(text, "0"), ".")
	if string(text) == "-0" || len(text) == 0 {
		text = []byte("0")
	}
	return append(b, text...)
}

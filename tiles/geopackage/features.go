package geopackage

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// Feature is one row of a layer: its shape in the layer's own coordinates, easting
// or longitude first, nil for none, and its fields.
type Feature struct {
	Shape      orb.Geometry
	Curved     bool // the shape has curves, which are not read; Shape is nil
	Properties map[string]any
	Place      string
}

// Features gives the rows of a layer that was described, in the order of the file.
func (f *File) Features(l Layer, take func(Feature) error) error {
	place := fmt.Sprintf("layer %.60q", l.Name)
	rows, err := f.db.QueryContext(f.ctx, `SELECT * FROM "`+strings.ReplaceAll(l.Name, `"`, `""`)+`"`)
	if err != nil {
		return sorted(place, err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return sorted(place, err)
	}
	shapeAt := slices.Index(columns, l.column) // a computed column stands here and not among the fields
	if shapeAt < 0 {
		return refuse(place, fmt.Sprintf("it has no column %.60q with shapes", l.column), again)
	}
	at := map[string]int{}
	for _, name := range l.Fields {
		if i := slices.Index(columns, name); i >= 0 {
			at[name] = i
		}
	}
	values, to := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		to[i] = &values[i]
	}
	for number := 1; rows.Next(); number++ {
		if err := rows.Scan(to...); err != nil {
			return sorted(place, err)
		}
		one := Feature{Properties: map[string]any{}, Place: fmt.Sprintf("%s, feature %d", place, number)}
		for name, i := range at {
			if v := plainValue(values[i]); v != nil {
				one.Properties[name] = v
			}
		}
		if err := one.shape(values[shapeAt]); err != nil {
			return err
		}
		if err := take(one); err != nil {
			return err
		}
	}
	return sorted(place, rows.Err())
}

// plainValue is a value as package geojson has them; nil for none and for blobs.
func plainValue(v any) any {
	const exactWhole = 1 << 53
	switch v := v.(type) {
	case int64:
		if v > exactWhole || v < -exactWhole {
			return json.Number(fmt.Sprint(v))
		}
		return float64(v)
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		return v
	case string:
		return strings.ToValidUTF8(v, "\uFFFD")
	case bool:
		return v
	case time.Time:
		if v.Equal(v.Truncate(24 * time.Hour)) {
			return v.Format(time.DateOnly)
		}
		return v.Format(time.RFC3339)
	}
	return nil
}

// shape reads the value of the column of shapes: a header of 8 bytes, an envelope,
// and well-known binary (OGC 12-128r19, 2.1.3).
func (one *Feature) shape(value any) error {
	blob, ok := value.([]byte)
	if value == nil {
		return nil
	}
	const header = 8
	if !ok || len(blob) < header || string(blob[:2]) != "GP" {
		return badShape(one.Place, "its shape is none of a GeoPackage")
	}
	flags := blob[3]
	envelopes := []int{0, 32, 48, 48, 64}
	code := int(flags >> 1 & 7)
	if code >= len(envelopes) || len(blob) < header+envelopes[code] {
		return badShape(one.Place, "its shape has a header that contradicts itself")
	}
	const extended = 1 << 5
	if flags&extended != 0 {
		return badShape(one.Place, "its shape is of another make than the standard's own")
	}
	r := &wkb{data: blob[header+envelopes[code]:], order: binary.LittleEndian}
	g, err := r.geometry(0)
	switch {
	case r.curved:
		one.Curved = true
	case err != nil:
		return badShape(one.Place, err.Error())
	default:
		one.Shape = g
	}
	return nil
}

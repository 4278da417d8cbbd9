package mvt

import (
	"math"
	"unicode/utf8"

	"google.golang.org/protobuf/encoding/protowire"
)

// decoder counts what a tile holds.
type decoder struct{ features, positions int }

// layer reads a layer: its names and values first, since they stand behind the
// features that use them.
func (d *decoder) layer(data []byte) (l Layer, err error) {
	l.Extent, l.Fields = 4096, map[string]string{}
	version := uint64(1)
	var keys []string
	var values []any
	var raw [][]byte
	err = fields(data, func(number protowire.Number, v value) error {
		switch number {
		case 15:
			version = v.number
		case 1:
			l.Name = string(v.bytes)
		case 2:
			raw = append(raw, v.bytes)
		case 3:
			keys = append(keys, string(v.bytes))
		case 4:
			one, err := valueOf(v.bytes)
			values = append(values, one)
			return err
		case 5:
			if v.number < 1 || v.number > mostExtent {
				return broken("layer %.40q: %d steps a side are not possible", l.Name, v.number)
			}
			l.Extent = int(v.number)
		}
		return nil
	})
	switch {
	case err != nil:
		return l, err
	case l.Name == "" || !utf8.ValidString(l.Name):
		return l, broken("a layer has no name")
	case version < 1 || version > 2:
		return l, broken("layer %.40q is of version %d; 1 and 2 are known", l.Name, version)
	}
	if d.features += len(raw); d.features > mostFeatures {
		return l, broken("it has more than %d features", mostFeatures)
	}
	for _, one := range raw {
		f, err := d.feature(one, l, keys, values)
		if err != nil {
			return l, err
		}
		l.Features = append(l.Features, f)
	}
	return l, nil
}

// valueOf reads a value (vector_tile.proto, message Value).
func valueOf(data []byte) (out any, err error) {
	err = fields(data, func(number protowire.Number, v value) error {
		switch number {
		case 1:
			if !utf8.Valid(v.bytes) {
				return broken("a text is not in UTF-8")
			}
			out = string(v.bytes)
		case 2:
			out = float64(math.Float32frombits(uint32(v.number)))
		case 3:
			out = math.Float64frombits(v.number)
		case 4:
			out = float64(int64(v.number))
		case 5:
			out = float64(v.number)
		case 6:
			out = float64(protowire.DecodeZigZag(v.number))
		case 7:
			out = v.number != 0
		}
		return nil
	})
	return out, err
}

// feature reads a feature with its values.
func (d *decoder) feature(data []byte, l Layer, keys []string, values []any) (f Feature, err error) {
	var tags, commands []uint64
	kind := uint64(0)
	err = fields(data, func(number protowire.Number, v value) (err error) {
		switch number {
		case 2:
			tags, err = numbers(tags, v)
		case 3:
			kind = v.number
		case 4:
			commands, err = numbers(commands, v)
		}
		return err
	})
	if err != nil {
		return f, err
	}
	if len(tags)%2 != 0 {
		return f, broken("layer %.40q: a feature has a name without a value", l.Name)
	}
	f.Values = make(map[string]any, len(tags)/2)
	for i := 0; i < len(tags); i += 2 {
		if tags[i] >= uint64(len(keys)) || tags[i+1] >= uint64(len(values)) {
			return f, broken("layer %.40q: a feature names a value that is not there", l.Name)
		}
		key, v := keys[tags[i]], values[tags[i+1]]
		f.Values[key] = v
		l.Fields[key] = kindOf(v)
	}
	f.Geometry, err = d.geometry(kind, commands, float64(l.Extent))
	return f, err
}

func kindOf(v any) string {
	switch v.(type) {
	case string:
		return "String"
	case bool:
		return "Boolean"
	}
	return "Number"
}

// numbers reads a repeated field, packed or not.
func numbers(all []uint64, v value) ([]uint64, error) {
	if v.kind == protowire.VarintType {
		return append(all, v.number), nil
	}
	for data := v.bytes; len(data) > 0; {
		one, n := protowire.ConsumeVarint(data)
		if n < 0 {
			return all, broken("its numbers are cut short")
		}
		all, data = append(all, one), data[n:]
	}
	return all, nil
}

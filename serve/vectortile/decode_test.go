package vectortile

import (
	"math"
	"testing"

	"google.golang.org/protobuf/encoding/protowire"
)

// drawn is a feature as a map program reads it from a tile.
type drawn struct {
	layer      string
	extent     int
	id         uint64
	kind       uint64
	parts      [][]gridPoint // a closed ring has no last position
	properties map[string]any
}

// fields walks over a message: numbers, and texts as they are.
func fields(t testing.TB, b []byte, use func(n protowire.Number, v uint64, text []byte)) {
	t.Helper()
	for len(b) > 0 {
		n, kind, size := protowire.ConsumeTag(b)
		if size < 0 {
			t.Fatal(protowire.ParseError(size))
		}
		b = b[size:]
		var v uint64
		var text []byte
		switch kind {
		case protowire.VarintType:
			v, size = protowire.ConsumeVarint(b)
		case protowire.Fixed64Type:
			v, size = protowire.ConsumeFixed64(b)
		case protowire.BytesType:
			text, size = protowire.ConsumeBytes(b)
		default:
			t.Fatalf("field %d has wire type %d", n, kind)
		}
		if size < 0 {
			t.Fatal(protowire.ParseError(size))
		}
		b = b[size:]
		use(n, v, text)
	}
}

func packed(t testing.TB, b []byte) (all []uint64) {
	for len(b) > 0 {
		v, size := protowire.ConsumeVarint(b)
		if size < 0 {
			t.Fatal(protowire.ParseError(size))
		}
		all, b = append(all, v), b[size:]
	}
	return all
}

// read decodes a tile by the text of Mapbox Vector Tile 2.1, and fails on what
// the text does not allow.
func read(t testing.TB, tile []byte) (all []drawn) {
	t.Helper()
	names := map[string]bool{}
	fields(t, tile, func(n protowire.Number, _ uint64, text []byte) {
		if n != tileLayer {
			t.Fatalf("field %d in a tile", n)
		}
		of := readLayer(t, text)
		if len(of) == 0 || names[of[0].layer] {
			t.Fatal("a layer is empty, or there twice")
		}
		names[of[0].layer] = true
		all = append(all, of...)
	})
	return all
}

func readLayer(t testing.TB, b []byte) (all []drawn) {
	t.Helper()
	var name string
	var keys []string
	var values []any
	var raw [][]byte
	var extent, version uint64
	fields(t, b, func(n protowire.Number, v uint64, text []byte) {
		switch n {
		case layerName:
			name = string(text)
		case layerFeature:
			raw = append(raw, text)
		case layerKey:
			keys = append(keys, string(text))
		case layerValue:
			values = append(values, readValue(t, text))
		case layerExtent:
			extent = v
		case layerVersion:
			version = v
		}
	})
	if version != 2 || name == "" || extent == 0 {
		t.Fatalf("layer %q: version %d, extent %d", name, version, extent)
	}
	for _, r := range raw {
		d := drawn{layer: name, extent: int(extent), properties: map[string]any{}}
		var tags, geometry []uint64
		fields(t, r, func(n protowire.Number, v uint64, text []byte) {
			switch n {
			case featureID:
				d.id = v
			case featureTags:
				tags = packed(t, text)
			case featureType:
				d.kind = v
			case featureGeometry:
				geometry = packed(t, text)
			}
		})
		for i := 0; i < len(tags); i += 2 {
			d.properties[keys[tags[i]]] = values[tags[i+1]]
		}
		d.parts = readGeometry(t, d.kind, geometry)
		all = append(all, d)
	}
	return all
}

func readValue(t testing.TB, b []byte) (value any) {
	fields(t, b, func(n protowire.Number, v uint64, text []byte) {
		switch n {
		case valueString:
			value = string(text)
		case valueDouble:
			value = math.Float64frombits(v)
		case valueUint:
			value = v
		case valueBool:
			value = v == 1
		}
	})
	return value
}

// readGeometry follows 4.3 of the text: a line has two positions or more and
// no step of nothing, a ring three or more and an area.
func readGeometry(t testing.TB, kind uint64, g []uint64) (parts [][]gridPoint) {
	t.Helper()
	var at gridPoint
	for i := 0; i < len(g); {
		id, count := g[i]&7, int(g[i]>>3)
		i++
		if id == closePath {
			if kind != typePolygon || count != 1 || len(parts[len(parts)-1]) < 3 || area(parts[len(parts)-1]) == 0 {
				t.Fatalf("a ring of %v is closed", parts)
			}
			continue
		}
		if count == 0 || i+2*count > len(g) || id == lineTo && len(parts) == 0 || id == moveTo && kind != typePoint && count != 1 {
			t.Fatalf("command %d, %d times", id, count)
		}
		if id == moveTo {
			parts = append(parts, nil)
		}
		for range count {
			step := gridPoint{unzigzag(g[i]), unzigzag(g[i+1])}
			i += 2
			if id == lineTo && step == (gridPoint{}) {
				t.Fatal("a step of nothing")
			}
			at = gridPoint{at[0] + step[0], at[1] + step[1]}
			parts[len(parts)-1] = append(parts[len(parts)-1], at)
		}
	}
	if len(parts) == 0 {
		t.Fatal("a feature without a shape")
	}
	for _, p := range parts {
		if kind == typeLine && len(p) < 2 {
			t.Fatalf("a line of %v", p)
		}
	}
	return parts
}

func unzigzag(v uint64) int32 { return int32(uint32(v)>>1) ^ -int32(v&1) }

// Package mvt reads vector tiles (Mapbox Vector Tile Specification 2.1; version 1 is
// read too): it proves that bytes are one, and gives their shapes. Tiles are untrusted:
// what they unpack to and hold is bounded.
//
// [google.golang.org/protobuf/encoding/protowire] reads the wire format.
package mvt

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"

	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"

	"groundsheet/tiles/fault"
)

// Bounds, so that no tile fills the memory. A tile of a town weighs some 100 kB.
const (
	mostBytes     = 16 << 20 // unpacked
	mostLayers    = 256
	mostFeatures  = 500_000
	mostPositions = 1_000_000
	mostExtent    = 1 << 20
)

// Layer is one layer of a tile.
type Layer struct {
	Name     string
	Extent   int // steps along the tile's side
	Features []Feature
	Fields   map[string]string // "String", "Number" or "Boolean" by name, as TileJSON has them
}

// Feature is one shape.
type Feature struct {
	// Geometry is points, lines or polygons; 0 to 1 across the tile from its
	// north-west corner, and a little beyond. nil = of a type that is not known
	Geometry orb.Geometry
	Values   map[string]any // string, float64 or bool
}

// Broken is the kind of fault of bytes that are no vector tile.
var Broken = fault.Input("no vector tile")

func broken(format string, args ...any) error {
	return &fault.Fault{Kind: Broken, Detail: "no whole vector tile: " + fmt.Sprintf(format, args...)}
}

// Unpack gives the bytes of a tile without gzip, if it has any.
func Unpack(data []byte) ([]byte, error) {
	if !bytes.HasPrefix(data, []byte("\x1f\x8b")) {
		if len(data) > mostBytes {
			return nil, broken("it has more than %d MB", mostBytes>>20)
		}
		return data, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, broken("its gzip cannot be read (%v)", err)
	}
	out, err := io.ReadAll(io.LimitReader(z, mostBytes+1))
	switch {
	case err != nil:
		return nil, broken("its gzip cannot be read (%v)", err)
	case len(out) > mostBytes:
		return nil, broken("it unpacks to more than %d MB", mostBytes>>20)
	}
	return out, nil
}

// Pack gives the bytes of a tile with gzip, as MBTiles 1.3 wants them: those that
// came, if they have it already.
func Pack(data []byte) []byte {
	if bytes.HasPrefix(data, []byte("\x1f\x8b")) {
		return data
	}
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(data) // to memory
	_ = z.Close()
	return out.Bytes()
}

// Decode reads a tile, packed by gzip or not. The fault is [Broken].
func Decode(data []byte) ([]Layer, error) {
	data, err := Unpack(data)
	if err != nil {
		return nil, err
	}
	d := &decoder{}
	var layers []Layer
	err = fields(data, func(number protowire.Number, v value) error {
		if number != 3 {
			return nil
		}
		if v.kind != protowire.BytesType {
			return broken("a layer is no message")
		}
		if len(layers) == mostLayers {
			return broken("it has more than %d layers", mostLayers)
		}
		l, err := d.layer(v.bytes)
		layers = append(layers, l)
		return err
	})
	return layers, err
}

// value is the value of a field: a number or bytes.
type value struct {
	kind   protowire.Type
	number uint64
	bytes  []byte
}

// fields goes through the fields of a message.
func fields(data []byte, each func(protowire.Number, value) error) error {
	for len(data) > 0 {
		number, kind, n := protowire.ConsumeTag(data)
		if n < 0 {
			return broken("a field cannot be read")
		}
		data = data[n:]
		v := value{kind: kind}
		switch kind {
		case protowire.VarintType:
			v.number, n = protowire.ConsumeVarint(data)
		case protowire.Fixed32Type:
			var w uint32
			w, n = protowire.ConsumeFixed32(data)
			v.number = uint64(w)
		case protowire.Fixed64Type:
			v.number, n = protowire.ConsumeFixed64(data)
		case protowire.BytesType:
			v.bytes, n = protowire.ConsumeBytes(data)
		default:
			n = -1
		}
		if n < 0 {
			return broken("it is cut short, or has fields of another kind")
		}
		data = data[n:]
		if err := each(number, v); err != nil {
			return err
		}
	}
	return nil
}

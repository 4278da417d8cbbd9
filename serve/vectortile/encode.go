package vectortile

import (
	"github.com/paulmach/orb"
	"google.golang.org/protobuf/encoding/protowire"
)

// Numbers of the fields (Mapbox Vector Tile 2.1, vector_tile.proto).
const (
	tileLayer protowire.Number = 3

	layerName     protowire.Number = 1
	layerFeature  protowire.Number = 2
	layerKey      protowire.Number = 3
	layerValue    protowire.Number = 4
	layerExtent   protowire.Number = 5
	layerVersion  protowire.Number = 15
	formatVersion                  = 2

	featureID       protowire.Number = 1
	featureTags     protowire.Number = 2
	featureType     protowire.Number = 3
	featureGeometry protowire.Number = 4

	valueString protowire.Number = 1
	valueDouble protowire.Number = 3
	valueUint   protowire.Number = 5
	valueBool   protowire.Number = 7

	typePoint, typeLine, typePolygon        = 1, 2, 3
	moveTo, lineTo, closePath        uint64 = 1, 2, 7
)

// layer builds one layer.
type layer struct {
	name     string
	extent   int
	features []byte
	keys     map[string]uint64
	values   map[string]uint64 // by their encoded form
	keyText  []byte
	valText  []byte
}

func newLayer(name string, extent int) *layer {
	return &layer{name: name, extent: extent, keys: map[string]uint64{}, values: map[string]uint64{}}
}

// encode writes the tile.
func (c *clipper) encode(marks []mark) []byte {
	records, faces, edges := newLayer(LayerRecords, c.extent), newLayer(LayerFaces, c.extent),
		newLayer(LayerEdges, c.extent)
	for i, p := range c.pieces(marks) {
		t := marks[i]
		_, outline := c.items[t.item].shape.(orb.Polygon)
		into := records
		if outline {
			into = edges
		}
		if p.point != nil {
			records.feature(c, t, typePoint, [][]gridPoint{p.point})
		}
		if len(p.lines) > 0 {
			into.feature(c, t, typeLine, p.lines)
			t.more = 0 // said once
		}
		if len(p.faces) > 0 {
			faces.feature(c, t, typePolygon, p.faces)
		}
	}
	var out []byte
	for _, l := range []*layer{records, faces, edges} {
		out = l.appendTo(out)
	}
	return out
}

// geometry encodes paths: commands, and steps from one position to the next.
func geometry(kind uint64, paths [][]gridPoint) (out []byte) {
	var at gridPoint
	command := func(id uint64, path []gridPoint) {
		out = protowire.AppendVarint(out, id|uint64(len(path))<<3)
		for _, p := range path {
			for axis := range p {
				out = protowire.AppendVarint(out, protowire.EncodeZigZag(int64(p[axis])-int64(at[axis])))
			}
			at = p
		}
	}
	for _, path := range paths {
		if kind == typePoint {
			command(moveTo, path)
			continue
		}
		command(moveTo, path[:1])
		command(lineTo, path[1:])
		if kind == typePolygon {
			out = protowire.AppendVarint(out, closePath|1<<3)
		}
	}
	return out
}

func (l *layer) feature(c *clipper, t mark, kind uint64, paths [][]gridPoint) {
	n := int(c.items[t.item].feature)
	var f []byte
	f = appendNumber(f, featureID, uint64(n))
	if tags := l.tags(c, n, t.more); len(tags) > 0 {
		f = appendBytes(f, featureTags, tags)
	}
	f = appendNumber(f, featureType, kind)
	f = appendBytes(f, featureGeometry, geometry(kind, paths))
	l.features = appendBytes(l.features, layerFeature, f)
}

func (l *layer) tags(c *clipper, n, more int) (tags []byte) {
	add := func(key string, value []byte) {
		tags = protowire.AppendVarint(protowire.AppendVarint(tags, l.key(key)), l.value(value))
	}
	for i, name := range c.carry {
		if id := c.values[n*len(c.carry)+i]; id > 0 {
			add(name, c.encoded[id-1])
		}
	}
	if more > 0 {
		add(MoreProperty, appendNumber(nil, valueUint, uint64(more)))
	}
	return tags
}

func (l *layer) key(name string) uint64 {
	n, known := l.keys[name]
	if !known {
		n = uint64(len(l.keys))
		l.keys[name] = n
		l.keyText = appendBytes(l.keyText, layerKey, []byte(name))
	}
	return n
}

func (l *layer) value(text []byte) uint64 {
	n, known := l.values[string(text)]
	if !known {
		n = uint64(len(l.values))
		l.values[string(text)] = n
		l.valText = appendBytes(l.valText, layerValue, text)
	}
	return n
}

// appendTo adds the layer to a tile, unless it holds nothing.
func (l *layer) appendTo(out []byte) []byte {
	if len(l.features) == 0 {
		return out
	}
	b := appendNumber(nil, layerVersion, formatVersion)
	b = appendBytes(b, layerName, []byte(l.name))
	b = append(b, l.features...)
	b = append(b, l.keyText...)
	b = append(b, l.valText...)
	b = appendNumber(b, layerExtent, uint64(l.extent))
	return appendBytes(out, tileLayer, b)
}

func appendNumber(b []byte, field protowire.Number, v uint64) []byte {
	return protowire.AppendVarint(protowire.AppendTag(b, field, protowire.VarintType), v)
}

func appendBytes(b []byte, field protowire.Number, v []byte) []byte {
	return protowire.AppendBytes(protowire.AppendTag(b, field, protowire.BytesType), v)
}

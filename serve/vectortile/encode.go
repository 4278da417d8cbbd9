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
	records, faces, edges := newLayer(LayerRecords, c.extent), newLayer(LayerFaces, c.extent), newLayer(LayerEdges, c.extent)
	for i, p := range c.pieces(marks) {
		t := marks[i]
		_, outline := c.items[t.item].shape.(orb.Polygon)
		into := records
		if outline {
			into = edges
		}
		if p.point != nil {
			records.feature(c, t, typePoint, points(p.point))
		}
		if len(p.lines) > 0 {
			into.feature(c, t, typeLine, paths(p.lines, false))
			t.more = 0 // said once
		}
		if len(p.faces) > 0 {
			faces.feature(c, t, typePolygon, paths(p.faces, true))
		}
	}
	var out []byte
	for _, l := range []*layer{records, faces, edges} {
		out = l.appendTo(out)
	}
	return out
}

func points(at []gridPoint) []uint64 {
	w := writer{}
	w.command(moveTo, len(at))
	w.run(at)
	return w.out
}

func paths(all [][]gridPoint, closed bool) []uint64 {
	w := writer{}
	for _, path := range all {
		w.command(moveTo, 1)
		w.run(path[:1])
		w.command(lineTo, len(path)-1)
		w.run(path[1:])
		if closed {
			w.command(closePath, 1)
		}
	}
	return w.out
}

// writer writes a geometry: commands, and steps from one position to the next.
type writer struct {
	out []uint64
	at  gridPoint
}

func (w *writer) command(id uint64, count int) { w.out = append(w.out, id|uint64(count)<<3) }

func (w *writer) run(path []gridPoint) {
	for _, s := range path {
		w.out = append(w.out, zigzag(s[0]-w.at[0]), zigzag(s[1]-w.at[1]))
		w.at = s
	}
}

func zigzag(v int32) uint64 { return uint64(uint32(v<<1) ^ uint32(v>>31)) }

func (l *layer) feature(c *clipper, t mark, kind uint64, geometry []uint64) {
	n := int(c.items[t.item].feature)
	var f []byte
	f = appendNumber(f, featureID, uint64(n))
	f = appendPacked(f, featureTags, l.tags(c, n, t.more))
	f = appendNumber(f, featureType, kind)
	f = appendPacked(f, featureGeometry, geometry)
	l.features = appendBytes(l.features, layerFeature, f)
}

func (l *layer) tags(c *clipper, n, more int) (tags []uint64) {
	for i, name := range c.carry {
		if id := c.values[n*len(c.carry)+i]; id > 0 {
			tags = append(tags, l.key(name), l.value(c.encoded[id-1]))
		}
	}
	if more > 0 {
		tags = append(tags, l.key(MoreProperty), l.value(appendNumber(nil, valueUint, uint64(more))))
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

func appendPacked(b []byte, field protowire.Number, all []uint64) []byte {
	if len(all) == 0 {
		return b
	}
	var packed []byte
	for _, v := range all {
		packed = protowire.AppendVarint(packed, v)
	}
	return appendBytes(b, field, packed)
}

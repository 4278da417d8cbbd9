package vectortile

import (
	"cmp"
	"context"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"
	"github.com/peterstace/simplefeatures/rtree"
	"google.golang.org/protobuf/encoding/protowire"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// Index holds an overlay: its shapes by place, what tiles carry of them, and
// its records, compressed. It does not change and may be used by many at once.
type Index struct {
	carry   []string
	coarse  bool
	items   []item
	tree    *rtree.RTree
	values  []int32  // len(carry) a feature: places among the encoded, from 1; 0 = none
	encoded [][]byte // properties as values of a tile
	records records
	content Content
	order   []int32 // items by place
	zooms   [DeepestZoom + 1]struct {
		once    sync.Once
		squares int
	}
}

// item is one shape of a feature: a point, a line, or a polygon, in fractions
// of the world square (see [tiles.Project]).
type item struct {
	feature int32
	shape   orb.Geometry
}

// New reads a GeoJSON FeatureCollection until ctx ends. Features that cannot be read, or
// are off the globe, are left out and counted.
func New(ctx context.Context, collection []byte, o Options) (*Index, error) {
	b := builder{
		Index: &Index{carry: o.Carry, coarse: o.Coarse}, only: o.Only,
		ids: map[string]int32{}, levels: map[string]bool{}, points: true, recorder: newRecorder(),
	}
	err := geojson.Each(collection, func(raw []byte, f geojson.Feature, err error) error {
		if err != nil {
			b.content.NotDrawn++ // one bad record hides no others
			return ctx.Err()
		}
		return cmp.Or(b.add(raw, f), ctx.Err())
	})
	records, compressed := b.recorder.close()
	if err = cmp.Or(err, compressed); err != nil {
		return nil, err
	}
	b.records = records
	return b.finish(), nil
}

// builder builds an index.
type builder struct {
	*Index
	recorder *recorder
	only     func(properties map[string]any) bool
	ids      map[string]int32 // of encoded values
	levels   map[string]bool
	points   bool
	boxes    []rtree.BulkItem
}

func (b *builder) add(raw []byte, f geojson.Feature) error {
	if f.Geometry == nil || b.only != nil && !b.only(f.Properties) {
		return nil
	}
	b.recorder.add(raw)
	for _, name := range b.carry {
		b.values = append(b.values, b.intern(encodeValue(f.Properties[name])))
	}
	b.addLevel(f.Properties["quality_level"])
	bound := f.Geometry.Bound()
	box := tiles.Box{West: bound.Left(), South: bound.Bottom(), East: bound.Right(), North: bound.Top()}
	if b.content.Features > 0 {
		box = box.Join(b.content.Box)
	}
	b.content.Box = box
	for part := range geojson.Parts(f.Geometry) {
		if len(b.items) >= maxItems {
			return errTooMuch
		}
		if _, ok := part.(orb.Point); !ok {
			b.points = false
		}
		shape := project.Geometry(part, onSquare)
		b.boxes = append(b.boxes, rtree.BulkItem{Box: boxOf(shape.Bound()), RecordID: len(b.items)})
		b.items = append(b.items, item{int32(b.content.Features), shape})
	}
	b.content.Features++
	return nil
}

// onSquare projects a position onto the world square. What lies beyond Web Mercator is
// put on its edge.
func onSquare(p orb.Point) orb.Point {
	x, y := tiles.Project(p[0], max(-tiles.MaxLatitude, min(p[1], tiles.MaxLatitude)))
	return orb.Point{max(0, min(x, 1)), max(0, min(y, 1))}
}

// maxLevels is how many different quality levels are listed.
const maxLevels = 20

func (b *builder) addLevel(v any) {
	text, _ := v.(string)
	if len(b.levels) < maxLevels {
		b.levels[shorten(strings.TrimSpace(text))] = true
	}
}

func (b *builder) finish() *Index {
	b.tree = rtree.BulkLoad(b.boxes)
	b.content.Points = b.points && b.content.Features > 0
	b.content.Levels = slices.Sorted(maps.Keys(b.levels))
	b.order = inOrder(b.items)
	b.items, b.values = slices.Clip(b.items), slices.Clip(b.values)
	return b.Index
}

// Content describes what the index holds.
func (x *Index) Content() Content { return x.content }

// maxText bounds a carried text, maxList a carried list, in bytes.
const (
	maxText = 64
	maxList = 256
)

func shorten(s string) string {
	if len(s) <= maxText {
		return s
	}
	return strings.ToValidUTF8(s[:maxText], "")
}

// encodeValue writes a property as a value of a tile; nil = it is not carried.
func encodeValue(v any) []byte {
	switch v := v.(type) {
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return protowire.AppendFixed64(protowire.AppendTag(nil, valueDouble, protowire.Fixed64Type), math.Float64bits(v))
		}
	case bool:
		return appendNumber(nil, valueBool, protowire.EncodeBool(v))
	case string:
		return appendBytes(nil, valueString, []byte(shorten(v)))
	case []any:
		if text, err := json.Marshal(v); err == nil && len(text) <= maxList {
			return appendBytes(nil, valueString, text)
		}
	}
	return nil
}

// intern keeps an encoded value once and gives its place; 0 = none.
func (b *builder) intern(value []byte) int32 {
	if value == nil {
		return 0
	}
	id, known := b.ids[string(value)]
	if !known {
		b.encoded = append(b.encoded, value)
		id = int32(len(b.encoded))
		b.ids[string(value)] = id
	}
	return id
}

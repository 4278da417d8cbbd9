package vectortile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// Index holds an overlay: its shapes by place, what tiles carry of them, and
// its records, compressed. It does not change and may be used by many at once.
type Index struct {
	carry   []string
	only    func(map[string]any) bool
	coarse  bool
	items   []item
	tree    *rtree.RTree
	values  []value // len(carry) a feature
	words   []string
	records records
	content Content
}

// item is one shape of a feature: a point, a line, or a polygon, in fractions
// of the world square (see [tiles.Project]).
type item struct {
	feature int32
	shape   orb.Geometry
}

// New reads a GeoJSON FeatureCollection. Features that cannot be read, or are off
// the globe, are left out and counted.
func New(collection []byte, o Options) (*Index, error) {
	b := builder{Index: &Index{carry: o.Carry, only: o.Only, coarse: o.Coarse}, known: map[string]int32{}, levels: map[string]bool{}, points: true}
	if err := eachFeature(collection, b.add); err != nil {
		return nil, err
	}
	return b.finish()
}

// eachFeature hands out the features one by one, so that memory does not hold
// all of them decoded.
func eachFeature(collection []byte, use func(raw json.RawMessage) error) error {
	d := json.NewDecoder(bytes.NewReader(collection))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return fmt.Errorf("no GeoJSON object: %w", orSyntax(err))
	}
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return err
		}
		if name != "features" {
			var skipped json.RawMessage
			if err := d.Decode(&skipped); err != nil {
				return err
			}
			continue
		}
		if t, err := d.Token(); err != nil || t != json.Delim('[') {
			return fmt.Errorf("its features are no list: %w", orSyntax(err))
		}
		for d.More() {
			var raw json.RawMessage
			if err := d.Decode(&raw); err != nil {
				return err
			}
			if err := use(raw); err != nil {
				return err
			}
		}
		if _, err := d.Token(); err != nil {
			return err
		}
	}
	_, err := d.Token()
	return err
}

func orSyntax(err error) error {
	if err == nil {
		return errors.New("another value stands there")
	}
	return err
}

// builder is an index in the making.
type builder struct {
	*Index
	known  map[string]int32 // words met so far
	levels map[string]bool
	points bool
	boxes  []rtree.BulkItem
}

func (b *builder) add(raw json.RawMessage) error {
	n := b.content.Features
	read, err := geojson.Read(raw)
	if err != nil || len(read) != 1 {
		b.content.NotDrawn++ // one bad record hides no others
		return nil
	}
	f := read[0]
	if f.Geometry == nil || b.only != nil && !b.only(f.Properties) {
		return nil
	}
	b.content.Features++
	if err := b.records.add(raw); err != nil {
		return err
	}
	for _, name := range b.carry {
		b.values = append(b.values, b.valueOf(f.Properties[name]))
	}
	b.level(f.Properties["quality_level"])
	box := f.Geometry.Bound()
	b.content.Box = b.content.Box.Join(tiles.Box{West: box.Left(), South: box.Bottom(), East: box.Right(), North: box.Top()})
	if n == 0 {
		b.content.Box = tiles.Box{West: box.Left(), South: box.Bottom(), East: box.Right(), North: box.Top()}
	}
	return b.shape(int32(n), f.Geometry)
}

// shape takes a geometry apart into points, lines and polygons.
func (b *builder) shape(feature int32, g orb.Geometry) error {
	switch g := g.(type) {
	case orb.MultiPoint:
		return each(b, feature, g)
	case orb.MultiLineString:
		return each(b, feature, g)
	case orb.MultiPolygon:
		return each(b, feature, g)
	case orb.Collection:
		return each(b, feature, g)
	}
	if len(b.items) >= mostItems {
		return ErrTooMuch
	}
	if _, ok := g.(orb.Point); !ok {
		b.points = false
	}
	s := onSquare(g)
	box := s.Bound()
	b.boxes = append(b.boxes, rtree.BulkItem{Box: rtree.Box{MinX: box.Min[0], MinY: box.Min[1], MaxX: box.Max[0], MaxY: box.Max[1]}, RecordID: len(b.items)})
	b.items = append(b.items, item{feature, s})
	return nil
}

func each[G orb.Geometry](b *builder, feature int32, list []G) error {
	for _, g := range list {
		if err := b.shape(feature, g); err != nil {
			return err
		}
	}
	return nil
}

// onSquare projects a shape onto the world square. What lies beyond Web
// Mercator is put on its edge.
func onSquare(g orb.Geometry) orb.Geometry {
	project := func(p orb.Point) orb.Point {
		x, y := tiles.Project(p[0], max(-tiles.MaxLatitude, min(p[1], tiles.MaxLatitude)))
		return orb.Point{max(0, min(x, 1)), max(0, min(y, 1))}
	}
	all := func(path []orb.Point) []orb.Point {
		out := make([]orb.Point, len(path))
		for i, p := range path {
			out[i] = project(p)
		}
		return out
	}
	switch g := g.(type) {
	case orb.Point:
		return project(g)
	case orb.LineString:
		return orb.LineString(all(g))
	case orb.Polygon:
		out := make(orb.Polygon, len(g))
		for i, ring := range g {
			out[i] = all(ring)
		}
		return out
	}
	return g // never: the reader knows no others
}

// mostLevels is how many different quality levels are listed.
const mostLevels = 20

func (b *builder) level(v any) {
	text, _ := v.(string)
	text = short(strings.TrimSpace(text))
	if len(b.levels) < mostLevels {
		b.levels[text] = true
	}
}

func (b *builder) finish() (*Index, error) {
	if err := b.records.close(); err != nil {
		return nil, err
	}
	b.records.held, b.records.zip = bytes.Buffer{}, nil // all is in blocks
	b.tree = rtree.BulkLoad(b.boxes)
	b.content.Points = b.points && b.content.Features > 0
	for level := range b.levels {
		b.content.Levels = append(b.content.Levels, level)
	}
	slices.Sort(b.content.Levels)
	b.items, b.values = slices.Clip(b.items), slices.Clip(b.values)
	return b.Index, nil
}

// Content tells what the index holds.
func (x *Index) Content() Content { return x.content }

// Value kinds; none is a property that is not there or is not carried.
const (
	none = iota
	number
	words
	truth
)

// value is one carried property; word is its place among the words.
type value struct {
	kind   uint8
	word   int32
	number float64
}

// longestWord bounds a carried text, longestList a carried list, in bytes.
const (
	longestWord = 64
	longestList = 256
)

func short(s string) string {
	if len(s) <= longestWord {
		return s
	}
	return strings.ToValidUTF8(s[:longestWord], "")
}

func (b *builder) valueOf(v any) value {
	switch v := v.(type) {
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return value{kind: number, number: v}
		}
	case bool:
		if v {
			return value{kind: truth, number: 1}
		}
		return value{kind: truth}
	case string:
		return b.word(short(v))
	case []any:
		if text, err := json.Marshal(v); err == nil && len(text) <= longestList {
			return b.word(string(text))
		}
	}
	return value{}
}

// word keeps a text once.
func (b *builder) word(s string) value {
	at, met := b.known[s]
	if !met {
		at = int32(len(b.words))
		b.known[s] = at
		b.words = append(b.words, s)
	}
	return value{kind: words, word: at}
}

// Package plainmap draws a quiet map from shapes with roles: streets, parcels, water,
// buildings, house numbers. Each pixel is a function of the shapes and of its place in
// the world, so tiles join; names are placed a block of tiles at a time, wholly
// within it, so that none is cut and none covers another.
//
// A street is drawn as wide as can be read, never as wide as it is: a file of center
// lines does not say where pavement ends. The colors are pale and none of them is one
// that names a utility.
package plainmap

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/source"
)

// Shape is one thing to draw.
type Shape struct {
	Geometry orb.Geometry // in fractions of the world square, row 0 in the north (see tiles.Project)
	Role     source.Role
	Name     string // the name or house number; "" = none
}

// Map holds shapes by their place. It does not change, and may be drawn by many at
// once.
type Map struct {
	items []item
	tree  *rtree.RTree
	used  []source.Role // from the ground up
}

// item is one part of a shape: a point, a line or a polygon.
type item struct {
	part orb.Geometry
	role source.Role
	name string
	box  orb.Bound
}

// longestName is how long a name may be to be written, in letters.
const longestName = 60

// New makes a map. Lines of one role and name that meet end to end become one line.
func New(shapes []Shape) *Map {
	m := &Map{}
	lines := map[lineKey][]orb.LineString{}
	var order []lineKey
	for _, s := range shapes {
		name := plain(s.Name)
		for part := range geojson.Parts(s.Geometry) {
			switch g := part.(type) {
			case orb.LineString:
				key := lineKey{s.Role, name}
				if lines[key] == nil {
					order = append(order, key)
				}
				lines[key] = append(lines[key], g)
			case orb.Polygon:
				m.add(oriented(g), s.Role, name)
			case orb.Point:
				m.add(g, s.Role, name)
			}
		}
	}
	for _, key := range order {
		parts := lines[key]
		if key.name != "" {
			parts = joined(parts)
		}
		for _, l := range parts {
			m.add(l, key.role, key.name)
		}
	}
	m.index()
	return m
}

type lineKey struct {
	role source.Role
	name string
}

// plain is a name as it is written: one line, or nothing when it is endless.
func plain(name string) string {
	name = strings.Join(strings.Fields(name), " ")
	if len([]rune(name)) > longestName {
		return ""
	}
	return name
}

func (m *Map) add(part orb.Geometry, role source.Role, name string) {
	box := part.Bound()
	if sum := box.Min[0] + box.Min[1] + box.Max[0] + box.Max[1]; math.IsNaN(sum) || math.IsInf(sum, 0) {
		return
	}
	m.items = append(m.items, item{part, role, name, box})
}

// index sorts the items from the ground up and by place, so that their order in the
// files does not matter.
func (m *Map) index() {
	roles := source.Roles()
	rank := map[source.Role]int{}
	for i, r := range roles {
		rank[r] = i
	}
	slices.SortStableFunc(m.items, func(a, b item) int {
		return cmp.Or(cmp.Compare(rank[a.role], rank[b.role]), cmp.Compare(a.box.Min[0], b.box.Min[0]), cmp.Compare(a.box.Min[1], b.box.Min[1]),
			cmp.Compare(a.box.Max[0], b.box.Max[0]), cmp.Compare(a.box.Max[1], b.box.Max[1]), strings.Compare(a.name, b.name))
	})
	boxes := make([]rtree.BulkItem, len(m.items))
	for i, it := range m.items {
		boxes[i] = rtree.BulkItem{Box: boxOf(it.box), RecordID: i}
		if n := len(m.used); n == 0 || m.used[n-1] != it.role {
			m.used = append(m.used, it.role)
		}
	}
	m.tree = rtree.BulkLoad(boxes)
}

func boxOf(b orb.Bound) rtree.Box {
	return rtree.Box{MinX: b.Min[0], MinY: b.Min[1], MaxX: b.Max[0], MaxY: b.Max[1]}
}

// Roles are those that have a shape, from the ground up.
func (m *Map) Roles() []source.Role { return slices.Clone(m.used) }

// Bound is the ground of all shapes in fractions of the world square; empty when there
// are none.
func (m *Map) Bound() (b orb.Bound, some bool) {
	for i, it := range m.items {
		if i == 0 {
			b = it.box
		}
		b = b.Union(it.box)
	}
	return b, len(m.items) > 0
}

// within are the items that touch a box, in their order.
func (m *Map) within(b orb.Bound) []*item {
	var found []int
	_ = m.tree.RangeSearch(boxOf(b), func(i int) error { // the callback has no error
		found = append(found, i)
		return nil
	})
	slices.Sort(found)
	out := make([]*item, len(found))
	for i, n := range found {
		out[i] = &m.items[n]
	}
	return out
}

// oriented is a polygon whose outer ring runs one way and whose holes run the other.
func oriented(p orb.Polygon) orb.Polygon {
	out := make(orb.Polygon, 0, len(p))
	for i, ring := range p {
		want := orb.CCW
		if i > 0 {
			want = orb.CW
		}
		ring = slices.Clone(ring)
		if ring.Orientation() != want {
			slices.Reverse(ring)
		}
		out = append(out, ring)
	}
	return out
}

// joined puts lines together where the ends of exactly two of them meet.
func joined(lines []orb.LineString) []orb.LineString {
	ends := map[orb.Point][]int{}
	for i, l := range lines {
		ends[l[0]] = append(ends[l[0]], i)
		ends[l[len(l)-1]] = append(ends[l[len(l)-1]], i)
	}
	used := make([]bool, len(lines))
	// next is the line that goes on at a point where two ends meet.
	next := func(at orb.Point) (orb.LineString, bool) {
		if len(ends[at]) != 2 {
			return nil, false
		}
		for _, i := range ends[at] {
			if !used[i] {
				used[i] = true
				l := slices.Clone(lines[i])
				if l[0] != at {
					slices.Reverse(l)
				}
				return l, true
			}
		}
		return nil, false
	}
	var out []orb.LineString
	for i, l := range lines {
		if used[i] {
			continue
		}
		used[i] = true
		l = slices.Clone(l)
		for range 2 { // forward, then from the other end
			for more, ok := next(l[len(l)-1]); ok; more, ok = next(l[len(l)-1]) {
				l = append(l, more[1:]...)
			}
			slices.Reverse(l)
		}
		out = append(out, l)
	}
	return out
}

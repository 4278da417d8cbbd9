package geopackage

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// wkb reads the well-known binary of ISO 13249-3, with heights and measures, which
// are left out, and the older mark of heights that some programs write.
type wkb struct {
	data   []byte
	order  binary.ByteOrder
	curved bool // there are curves
	extra  int  // numbers after x and y
}

// maxDepth is how deep collections may lie in one another.
const maxDepth = 4

var errShort = errors.New("its shape is cut off")

func badShape(place, detail string) error {
	return &fault.Fault{Kind: RuleShape, Place: place, Detail: detail, Remedy: "export the layer again"}
}

func (r *wkb) uint32() (uint32, error) {
	if len(r.data) < 4 {
		return 0, errShort
	}
	v := r.order.Uint32(r.data)
	r.data = r.data[4:]
	return v, nil
}

// count reads how many things follow, each of which takes some bytes at least.
func (r *wkb) count(each int) (int, error) {
	n, err := r.uint32()
	if err != nil || int64(n)*int64(each) > int64(len(r.data)) {
		return 0, errShort
	}
	return int(n), nil
}

// geometry reads one geometry; nil for an empty one.
func (r *wkb) geometry(depth int) (orb.Geometry, error) {
	kind, err := r.kind()
	switch {
	case err != nil:
		return nil, err
	case depth > maxDepth:
		return nil, errors.New("its shape is nested too deep")
	}
	switch kind {
	case 1:
		p, err := r.point()
		if err == nil && math.IsNaN(p[0]) && math.IsNaN(p[1]) {
			return nil, nil // how the standard writes an empty point
		}
		return p, err
	case 2:
		line, err := r.points()
		if err != nil || len(line) == 0 {
			return nil, err
		}
		return orb.LineString(line), nil
	case 3:
		polygon, err := r.polygon()
		if err != nil || len(polygon) == 0 {
			return nil, err
		}
		return polygon, nil
	case 4, 5, 6, 7:
		return r.several(kind, depth)
	case 8, 9, 10, 11, 12, 13, 14:
		r.curved = true
		return nil, errors.New("its shape has curves")
	}
	return nil, fmt.Errorf("its shape is of the kind %d, which is not a point, line or polygon", kind)
}

// kind reads byte order and kind.
func (r *wkb) kind() (uint32, error) {
	if len(r.data) < 1 {
		return 0, errShort
	}
	r.order = binary.ByteOrder(binary.BigEndian)
	if r.data[0] == 1 {
		r.order = binary.LittleEndian
	}
	r.data = r.data[1:]
	kind, err := r.uint32()
	if err != nil {
		return 0, err
	}
	const oldHeights = 1 << 31
	if r.extra = 0; kind&oldHeights != 0 {
		r.extra, kind = 1, kind&^oldHeights
	}
	switch kind / 1000 {
	case 1, 2:
		r.extra = 1
	case 3:
		r.extra = 2
	}
	return kind % 1000, nil
}

func (r *wkb) point() (p orb.Point, err error) {
	size := 8 * (2 + r.extra)
	if len(r.data) < size {
		return p, errShort
	}
	for i := range p {
		p[i] = math.Float64frombits(r.order.Uint64(r.data[8*i:]))
	}
	r.data = r.data[size:]
	return p, nil
}

func (r *wkb) points() ([]orb.Point, error) {
	n, err := r.count(8 * (2 + r.extra))
	if err != nil {
		return nil, err
	}
	all := make([]orb.Point, n)
	for i := range all {
		if all[i], err = r.point(); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func (r *wkb) polygon() (orb.Polygon, error) {
	n, err := r.count(4)
	if err != nil {
		return nil, err
	}
	all := make(orb.Polygon, 0, min(n, 1000))
	for range n {
		ring, err := r.points()
		if err != nil {
			return nil, err
		}
		all = append(all, ring)
	}
	return all, nil
}

// several reads a MultiPoint, MultiLineString, MultiPolygon or collection.
func (r *wkb) several(kind uint32, depth int) (orb.Geometry, error) {
	n, err := r.count(5)
	if err != nil {
		return nil, err
	}
	var all orb.Collection
	for range n {
		g, err := r.geometry(depth + 1)
		if err != nil {
			return nil, err
		}
		if g != nil {
			all = append(all, g)
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	switch kind {
	case 4:
		return multi[orb.Point, orb.MultiPoint](all)
	case 5:
		return multi[orb.LineString, orb.MultiLineString](all)
	case 6:
		return multi[orb.Polygon, orb.MultiPolygon](all)
	}
	return all, nil
}

// multi makes one geometry of several of a kind.
func multi[G orb.Geometry, M interface {
	~[]G
	orb.Geometry
}](all orb.Collection) (orb.Geometry, error) {
	out := make(M, 0, len(all))
	for _, g := range all {
		one, ok := g.(G)
		if !ok {
			return nil, fmt.Errorf("its shape holds a %s in a %s", g.GeoJSONType(), out.GeoJSONType())
		}
		out = append(out, one)
	}
	return out, nil
}

package geojson

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

func TestWrite(t *testing.T) {
	tests := []struct {
		name string
		in   []Feature
		want string
	}{
		{"nothing", nil, "{\"type\":\"FeatureCollection\",\"features\":[\n]}\n"},
		{"nine decimals, no minus zero, keys in order",
			[]Feature{{Geometry: orb.Point{-105.00000000049, -0.0000000001}, ID: `a"b`, Properties: map[string]any{"z": "<&>", "a": 1.5}}},
			"{\"type\":\"FeatureCollection\",\"features\":[\n" +
				`{"type":"Feature","id":"a\"b","geometry":{"type":"Point","coordinates":[-105,0]},"properties":{"a":1.5,"z":"<&>"}}` + "\n]}\n"},
		{"null geometry and properties", []Feature{{}, {}},
			"{\"type\":\"FeatureCollection\",\"features\":[\n" +
				`{"type":"Feature","geometry":null,"properties":null},` + "\n" + `{"type":"Feature","geometry":null,"properties":null}` + "\n]}\n"},
		{"collection, ring and box as polygons",
			[]Feature{{Geometry: orb.Collection{orb.Ring{{100, 10}, {110, 10}, {110, 20}, {100, 10}}, orb.Bound{Max: orb.Point{1, 1}}}}},
			"{\"type\":\"FeatureCollection\",\"features\":[\n" +
				`{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[[[100,10],[110,10],[110,20],[100,10]]]},` +
				`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1],[0,0]]]}]},"properties":null}` + "\n]}\n"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Write(&b, test.in); err != nil {
				t.Fatal(err)
			}
			if b.String() != test.want {
				t.Errorf("got\n%swant\n%s", b.String(), test.want)
			}
		})
	}
}

func TestWriteRefuses(t *testing.T) {
	tests := []struct {
		name string
		in   Feature
	}{
		{"coordinate not a number", Feature{Geometry: orb.LineString{{0, 0}, {math.NaN(), 1}}}},
		{"infinite coordinate", Feature{Geometry: orb.MultiPolygon{{{{0, math.Inf(1)}}}}}},
		{"property JSON cannot hold", Feature{Properties: map[string]any{"f": math.Inf(1)}}},
		{"coordinate in a collection", Feature{Geometry: orb.Collection{orb.Point{math.NaN(), 0}}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			err := Write(&bytes.Buffer{}, []Feature{{}, test.in})
			if err == nil || !strings.Contains(err.Error(), "feature 2") {
				t.Errorf("error %v; want one that names feature 2", err)
			}
		})
	}
	full := errors.New("disk full")
	if err := Write(failing{full}, []Feature{{}}); !errors.Is(err, full) {
		t.Errorf("error %v, want %v", err, full)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// FuzzRead: reading never panics, and what it accepts is the same after
// writing and reading again.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		`{"type":"Point","coordinates":[-105.123456789012,40]}`,
		`{"type":"FeatureCollection","features":[{"type":"Feature","id":1,"geometry":null,"properties":{"a":[1,2.5,"x",null,true]}}]}`,
		`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]],[[0.5,0.1],[0.6,0.1],[0.6,0.2],[0.5,0.1]]]}`,
		`{"type":"GeometryCollection","geometries":[{"type":"MultiLineString","coordinates":[[[0,0],[180,9e-1]]]},{"type":"MultiPoint","coordinates":[]}]}`,
		`{"type":"LineString","coordinates":[[-0.0000000006,0],[179.9999999994,0]]}`,
		`{"type":"Feature","geometry":{"type":"MultiPolygon","coordinates":[[[[0,0,1],[1,0,null],[1,1],[0,0]]]]},"properties":{"k":12345678901234567890}}`,
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		first, err := Read(data)
		if err != nil {
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Place == "" || bad.Remedy == "" {
				t.Fatalf("error without place or remedy: %#v", err)
			}
			return
		}
		var b bytes.Buffer
		if err := Write(&b, first); err != nil {
			t.Fatalf("cannot write what was read: %v", err)
		}
		second, err := Read(b.Bytes())
		if err != nil || len(second) != len(first) {
			t.Fatalf("read again: %d features for %d, %v", len(second), len(first), err)
		}
		for i := range first {
			if first[i].ID != second[i].ID || !reflect.DeepEqual(first[i].Properties, second[i].Properties) {
				t.Errorf("feature %d: %#v became %#v", i, first[i], second[i])
			}
			if !near(first[i].Geometry, second[i].Geometry) {
				t.Errorf("feature %d: %v became %v", i, first[i].Geometry, second[i].Geometry)
			}
		}
	})
}

// near reports whether two geometries have the same build and positions
// within 1e-9 degrees.
func near(a, b orb.Geometry) bool {
	va, vb := reflect.ValueOf(a), reflect.ValueOf(b)
	if !va.IsValid() || !vb.IsValid() {
		return va.IsValid() == vb.IsValid()
	}
	if va.Type() != vb.Type() {
		return false
	}
	if p, ok := a.(orb.Point); ok {
		q := b.(orb.Point)
		return math.Abs(p[0]-q[0]) <= 1e-9 && math.Abs(p[1]-q[1]) <= 1e-9
	}
	if va.Len() != vb.Len() {
		return false
	}
	for i := range va.Len() {
		if !near(va.Index(i).Interface().(orb.Geometry), vb.Index(i).Interface().(orb.Geometry)) {
			return false
		}
	}
	return true
}

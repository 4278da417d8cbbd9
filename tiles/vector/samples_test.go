package vector

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

const (
	written   = 1e-7              // degrees, where the numbers are those of the source
	projected = 0.001 / 111_320.0 // degrees of a millimeter on the ground
)

func TestSamples(t *testing.T) {
	tests := []struct {
		file, source  string
		want          Want
		format, datum string
		within        float64
	}{
		{"site.geojson", "site", Areas, "GeoJSON", "WGS 84", 0},
		{"site.kml", "site", Areas, "KML", "WGS 84", written},
		{"site-4326.shp", "site", Areas, "shapefile", "WGS 84", written},
		{"site-4269.shp", "site", Areas, "shapefile", "NAD83", written},
		{"site-3857.shp", "site", Areas, "shapefile", "WGS 84", projected},
		{"site-26913.shp", "site", Areas, "shapefile", "NAD83", projected},
		{"site-32613.shp", "site", Areas, "shapefile", "WGS 84", projected},
		{"site-2232.shp", "site", Areas, "shapefile", "NAD83", projected},
		{"site-2231.gpkg", "site", Areas, "GeoPackage", "NAD83", projected},
		{"routes.kml", "routes", Lines, "KML", "WGS 84", written},
		{"routes.shp", "routes", Lines, "shapefile", "WGS 84", written},
		{"marks.shp", "marks", Anything, "shapefile", "WGS 84", written},
		{"marks.kmz", "marks", Anything, "KMZ", "WGS 84", written},
		{"marks.gpx", "marks", Anything, "GPX", "WGS 84", written},
		{"marks.csv", "marks", Anything, "CSV", "", written},
		{"marks-semicolon.csv", "marks", Anything, "CSV", "", written},
	}
	for _, test := range tests {
		t.Run(test.file, func(t *testing.T) {
			features, info := readFile(t, test.file, test.want)
			if info.Format != test.format || info.Datum != test.datum {
				t.Errorf("%q on %q; want %q on %q", info.Format, info.Datum, test.format, test.datum)
			}
			source, _ := readFile(t, test.source+".geojson", Anything)
			if len(features) != len(source) {
				t.Fatalf("%d features; want %d", len(features), len(source))
			}
			for i := range source {
				if d := apart(features[i].Geometry, source[i].Geometry); !(d <= test.within) {
					t.Errorf("feature %d is %g degrees off; %g is allowed\n%v\n%v", i+1, d, test.within, features[i].Geometry, source[i].Geometry)
				}
			}
		})
	}
}

func readFile(t *testing.T, name string, want Want) ([]geojson.Feature, Info) {
	t.Helper()
	f, err := Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	features, info, err := Read(f, want)
	if err != nil {
		t.Fatal(err)
	}
	return features, info
}

// apart is the greatest difference of two geometries of one build, in degrees;
// infinite for different builds. Rings may run either way and start anywhere.
func apart(a, b orb.Geometry) float64 {
	if p, ok := a.(orb.Point); ok {
		q, ok := b.(orb.Point)
		if !ok {
			return math.Inf(1)
		}
		return math.Max(math.Abs(p[0]-q[0]), math.Abs(p[1]-q[1]))
	}
	if r, ok := a.(orb.Ring); ok {
		if q, ok := b.(orb.Ring); ok {
			a, b = orb.LineString(standard(r)), orb.LineString(standard(q))
		}
	}
	va, vb := reflect.ValueOf(a), reflect.ValueOf(b)
	if va.Type() != vb.Type() || va.Len() != vb.Len() {
		return math.Inf(1)
	}
	worst := 0.0
	for i := range va.Len() {
		worst = max(worst, apart(va.Index(i).Interface().(orb.Geometry), vb.Index(i).Interface().(orb.Geometry)))
	}
	return worst
}

// standard lets a ring run counter-clockwise from its westernmost vertex.
func standard(r orb.Ring) orb.Ring {
	open := slices.Clone(r[:len(r)-1])
	if signedArea(r) < 0 {
		slices.Reverse(open)
	}
	west := 0
	for i, p := range open {
		if p[0] < open[west][0] {
			west = i
		}
	}
	open = append(open[west:], open[:west]...)
	return append(open, open[0])
}

func TestSampleAttributes(t *testing.T) {
	tests := []struct {
		file string
		want Want
		i    int
		all  map[string]any
	}{
		{"site-4326.shp", Areas, 0, map[string]any{"Name": "Dig area", "depth_in": 36.0, "noted": "2025-03-14"}},
		{"site-4326.shp", Areas, 1, map[string]any{"Name": "Yard and island", "depth_in": 24.5, "noted": nil}},
		{"routes.shp", Lines, 0, map[string]any{"Name": "Trench café"}},
		{"site.kml", Areas, 0, map[string]any{"name": "Dig area", "depth_in": "36", "noted": "2025/03/14"}},
		{"routes.kml", Lines, 0, map[string]any{"name": "Trench café"}},
		{"marks.kmz", Anything, 1, map[string]any{"name": "B", "note": `hub "7"`}},
		{"marks.gpx", Anything, 1, map[string]any{"name": "B", "desc": `hub "7"`}},
		{"marks.csv", Anything, 0, map[string]any{"Name": "A", "note": "corner, north"}},
		{"marks-semicolon.csv", Anything, 1, map[string]any{"Name": "B", "note": `hub "7"`}},
		{"routes.gpx", Lines, 2, map[string]any{"name": "Bore"}},
	}
	for _, test := range tests {
		t.Run(test.file, func(t *testing.T) {
			features, _ := readFile(t, test.file, test.want)
			if got := features[test.i].Properties; !reflect.DeepEqual(got, test.all) {
				t.Errorf("got %v; want %v", got, test.all)
			}
		})
	}
}

// GPX has no lines of several parts: each segment is a feature.
func TestSampleTracks(t *testing.T) {
	features, _ := readFile(t, "routes.gpx", Lines)
	source, _ := readFile(t, "routes.geojson", Lines)
	bore := source[1].Geometry.(orb.MultiLineString)
	want := []orb.Geometry{source[0].Geometry, bore[0], bore[1]}
	for i, g := range want {
		if d := apart(features[i].Geometry, g); d > written {
			t.Errorf("segment %d is %g degrees off", i+1, d)
		}
	}
	if got := features[2].Place; got != `track 2 "Bore", segment 2` {
		t.Errorf("place %s", got)
	}
}

// refusal checks a fault by its rule, its place, and words it must hold.
func refusal(t *testing.T, err error, rule *fault.Kind, place string, words ...string) {
	t.Helper()
	var f *fault.Fault
	if !errors.As(err, &f) {
		t.Fatalf("error %v; want a fault of rule %q", err, rule)
	}
	if f.Kind != rule || f.Place != place || f.Remedy == "" {
		t.Errorf("rule %q at %q, remedy %q; want %q at %q", f.Kind, f.Place, f.Remedy, rule, place)
	}
	for _, w := range words {
		if !strings.Contains(f.Error(), w) {
			t.Errorf("%q does not say %q", f.Error(), w)
		}
	}
}

// noted checks that one of the notes holds the words.
func noted(t *testing.T, info Info, words string) {
	t.Helper()
	if !slices.ContainsFunc(info.Notes, func(s string) bool { return strings.Contains(s, words) }) {
		t.Errorf("no note says %q: %q", words, info.Notes)
	}
}

func sample(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// packed makes a zip; names and contents take turns.
func packed(t testing.TB, pairs ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
	for i := 0; i < len(pairs); i += 2 {
		w, err := z.Create(pairs[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(pairs[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

package geojson

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

func TestRead(t *testing.T) {
	square := orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}
	tests := []struct {
		name, text string
		want       []Feature
	}{
		{"bare point, height ignored", `{"type":"Point","coordinates":[-105.5,40.25,1609.3]}`,
			[]Feature{{Geometry: orb.Point{-105.5, 40.25}, Place: "geometry"}}},
		{"byte order mark and blanks", "\xef\xbb\xbf \n{\"type\":\"Point\",\"coordinates\":[ 1 ,\n2 ]}\n",
			[]Feature{{Geometry: orb.Point{1, 2}, Place: "geometry"}}},
		{"feature with text id", `{"type":"Feature","id":"a","geometry":{"type":"MultiPoint","coordinates":[[1,2],[3,4]]},"properties":null}`,
			[]Feature{{Geometry: orb.MultiPoint{{1, 2}, {3, 4}}, ID: "a", Place: "feature"}}},
		{"feature with number id, place not known", `{"type":"Feature","id":17,"geometry":null,"properties":{"n":2}}`,
			[]Feature{{ID: "17", Properties: map[string]any{"n": 2.0}, Place: "feature"}}},
		{"collection", `{"type":"FeatureCollection","bbox":[0,0,1,1],"features":[
			{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]},"properties":{}},
			{"type":"Feature","geometry":{"type":"MultiLineString","coordinates":[[[0,0],[1,0]],[[2,2],[3,3],[4,4]]]},"properties":{}}]}`,
			[]Feature{
				{Geometry: square, Properties: map[string]any{}, Place: "feature 1"},
				{Geometry: orb.MultiLineString{{{0, 0}, {1, 0}}, {{2, 2}, {3, 3}, {4, 4}}}, Properties: map[string]any{}, Place: "feature 2"},
			}},
		{"empty collection", `{"type":"FeatureCollection","features":[]}`, []Feature{}},
		{"collection of geometries", `{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[1,1],[0,0]]]]}]}`,
			[]Feature{{Geometry: orb.Collection{orb.Point{1, 2}, orb.MultiPolygon{square}}, Place: "geometry"}}},
		{"clockwise ring is taken (RFC 7946, 3.1.6)", `{"type":"Polygon","coordinates":[[[0,0],[1,1],[1,0],[0,0]]]}`,
			[]Feature{{Geometry: orb.Polygon{{{0, 0}, {1, 1}, {1, 0}, {0, 0}}}, Place: "geometry"}}},
		{"old crs that names WGS 84", `{"type":"Point","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"coordinates":[1,2]}`,
			[]Feature{{Geometry: orb.Point{1, 2}, Place: "geometry"}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := Read([]byte(test.text))
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, test.want) {
				t.Errorf("got  %#v\nwant %#v", got, test.want)
			}
		})
	}
}

// inFeature puts a geometry where faults have a full place.
func inFeature(geometry string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null,"properties":{}},{"type":"Feature","properties":{},"geometry":` + geometry + `}]}`
}

func TestReadRefuses(t *testing.T) {
	tests := []struct {
		name, text  string
		rule        *fault.Kind
		place, says string
	}{
		{"no bytes", "", RuleEmpty, "file", "empty"},
		{"only a byte order mark", "\xef\xbb\xbf\n", RuleEmpty, "file", "empty"},
		{"UTF-16", "{\n\xff\x00", RuleEncoding, "line 2 (byte 2)", "UTF-8"},
		{"cut short", "{\"type\":\n\"Point\",", RuleJSON, "line 2 (byte 17)", "not JSON"},
		{"text after the end", `{"type":"Point","coordinates":[1,2]} x`, RuleJSON, "line 1 (byte 38)", "not JSON"},
		{"NaN", `{"type":"Point","coordinates":[NaN,2]}`, RuleJSON, "line 1 (byte 32)", "not JSON"},
		{"an array", `[1,2]`, RuleType, "file", "an array"},
		{"null", `null`, RuleType, "file", "null"},
		{"no type", `{"features":[]}`, RuleType, "file", `no member "type"`},
		{"type in capitals", `{"Type":"Point","coordinates":[1,2]}`, RuleType, "file", `no member "type"`},
		{"type is a number", `{"type":1}`, RuleType, "file", "a number"},
		{"unknown type", `{"type":"Topology"}`, RuleType, "geometry", `"Topology"`},
		{"type of wrong case", `{"type":"point","coordinates":[1,2]}`, RuleType, "geometry", `"point"`},
		{"no features", `{"type":"FeatureCollection"}`, RuleMember, "file", `"features"`},
		{"features null", `{"type":"FeatureCollection","features":null}`, RuleMember, "file", `"features"`},
		{"geometry among features", `{"type":"FeatureCollection","features":[{"type":"Point","coordinates":[1,2]}]}`, RuleType, "feature 1", `"Point"`},
		{"feature is a number", `{"type":"FeatureCollection","features":[7]}`, RuleType, "feature 1", "a number"},
		{"no geometry member", `{"type":"Feature","properties":{}}`, RuleMember, "feature", `"geometry"`},
		{"properties an array", `{"type":"Feature","geometry":null,"properties":[1]}`, RuleMember, "feature", `"properties" is an array`},
		{"id an object", `{"type":"Feature","id":{},"geometry":null,"properties":{}}`, RuleMember, "feature", `"id" is an object`},
		{"no coordinates", inFeature(`{"type":"Point"}`), RuleMember, "feature 2", `"coordinates"`},
		{"coordinates null", inFeature(`{"type":"Polygon","coordinates":null}`), RuleMember, "feature 2", `"coordinates"`},
		{"polygon nested as a line", inFeature(`{"type":"Polygon","coordinates":[[0,0],[1,0],[1,1],[0,0]]}`), RulePosition, "feature 2, ring 1, position 1", "a number"},
		{"line nested as a polygon", inFeature(`{"type":"LineString","coordinates":[[[0,0],[1,0]]]}`), RuleNumber, "feature 2, position 1", "an array"},
		{"coordinates a text", inFeature(`{"type":"LineString","coordinates":"0,0"}`), RuleNesting, "feature 2", "LineString"},
		{"one number", inFeature(`{"type":"MultiPoint","coordinates":[[1,2],[3]]}`), RulePosition, "feature 2, position 2", "1 numbers"},
		{"no number", inFeature(`{"type":"Point","coordinates":[]}`), RulePosition, "feature 2", "0 numbers"},
		{"null position", inFeature(`{"type":"MultiPoint","coordinates":[null]}`), RulePosition, "feature 2, position 1", "null"},
		{"number as text", inFeature(`{"type":"Point","coordinates":["1",2]}`), RuleNumber, "feature 2", "a text"},
		{"number beyond float64", inFeature(`{"type":"Point","coordinates":[1e999,2]}`), RuleNumber, "feature 2", "1e999"},
		{"projected metres", inFeature(`{"type":"Point","coordinates":[500000,4400000]}`), RuleLongitude, "feature 2", "look like meters or feet"},
		{"latitude and longitude swapped", inFeature(`{"type":"Point","coordinates":[40,-105]}`), RuleLatitude, "feature 2", "latitude -105 is impossible; are latitude and longitude swapped?"},
		{"latitude beyond the pole", inFeature(`{"type":"Point","coordinates":[-105,90.5]}`), RuleLatitude, "feature 2", "latitude 90.5"},
		{"longitude beyond 180", inFeature(`{"type":"Point","coordinates":[181,10]}`), RuleLongitude, "feature 2", "181"},
		{"line of one position", inFeature(`{"type":"MultiLineString","coordinates":[[[0,0],[1,1]],[[0,0]]]}`), RuleLine, "feature 2, line 2", "1 positions"},
		{"polygon without rings", inFeature(`{"type":"Polygon","coordinates":[]}`), RuleRing, "feature 2", "without rings"},
		{"ring of three positions", inFeature(`{"type":"Polygon","coordinates":[[[0,0],[1,1],[0,0]]]}`), RuleRing, "feature 2, ring 1", "3 positions"},
		{"ring not closed", inFeature(`{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[1,1],[0,1]]]]}`), RuleOpenRing, "feature 2, polygon 1, ring 1, position 4", "not closed"},
		{"edge over the antimeridian", inFeature(`{"type":"LineString","coordinates":[[179,0],[-179,0]]}`), RuleAntimeridian, "feature 2, position 2", "358 degrees"},
		{"collection in a collection", inFeature(`{"type":"GeometryCollection","geometries":[{"type":"GeometryCollection","geometries":[]}]}`), RuleNesting, "feature 2, geometry 1", "inside"},
		{"fault inside a collection", inFeature(`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[0,0]},{"type":"Point","coordinates":[0]}]}`), RulePosition, "feature 2, geometry 2", "1 numbers"},
		{"no geometries", inFeature(`{"type":"GeometryCollection"}`), RuleMember, "feature 2", `"geometries"`},
		{"other crs", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::26954"}},"features":[]}`, RuleCRS, "file", "26954"},
		{"crs on a feature", `{"type":"Feature","crs":{"type":"name","properties":{"name":"EPSG:3857"}},"geometry":null,"properties":{}}`, RuleCRS, "file", "3857"},
		{"crs null", `{"type":"FeatureCollection","crs":null,"features":[]}`, RuleCRS, "file", "names no"},
		{"crs link", `{"type":"FeatureCollection","crs":{"type":"link","properties":{"href":"x.prj"}},"features":[]}`, RuleCRS, "file", "names no"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := Read([]byte(test.text))
			var bad *fault.Fault
			if !errors.As(err, &bad) {
				t.Fatalf("got %v, error %v; want a fault", got, err)
			}
			if bad.Kind != test.rule || bad.Place != test.place {
				t.Errorf("rule %q at %q, want %q at %q", bad.Kind, bad.Place, test.rule, test.place)
			}
			if !strings.Contains(err.Error(), test.says) || bad.Remedy == "" {
				t.Errorf("error %q does not say %q with a remedy", err, test.says)
			}
		})
	}
}

func TestTooManyPositions(t *testing.T) {
	position := "[1,2],"
	text := `{"type":"MultiPoint","coordinates":[` + strings.Repeat(position, MaxPositions)
	if _, err := Read([]byte(strings.TrimSuffix(text, ",") + "]}")); err != nil {
		t.Errorf("%d positions: %v", MaxPositions, err)
	}
	_, err := Read([]byte(text + "[1,2]]}"))
	var bad *fault.Fault
	if !errors.As(err, &bad) || bad.Kind != RuleSize || bad.Place != fmt.Sprintf("geometry, position %d", MaxPositions+1) {
		t.Errorf("one more: %v", err)
	}
}

func TestWGS84Names(t *testing.T) {
	yes := []string{"CRS84", "OGC:CRS84", "EPSG:4326", "epsg:4326", "urn:ogc:def:crs:OGC::CRS84", "urn:ogc:def:crs:OGC:1.3:CRS84",
		"urn:ogc:def:crs:EPSG::4326", "urn:ogc:def:crs:EPSG:9.9:4326", "http://www.opengis.net/def/crs/OGC/1.3/CRS84", "https://www.opengis.net/def/crs/EPSG/0/4326"}
	no := []string{"", "4326", "EPSG:3857", "EPSG:4269", "urn:ogc:def:crs:EPSG::2232", "ESRI:4326", "OGC:CRS83", "EPSG:4326:5:6", "NAD83"}
	for _, name := range yes {
		if !wgs84(name) {
			t.Errorf("%q is WGS 84", name)
		}
	}
	for _, name := range no {
		if wgs84(name) {
			t.Errorf("%q is not known to be WGS 84", name)
		}
	}
}

func TestNumbersInProperties(t *testing.T) {
	features, err := Read([]byte(`{"type":"Feature","geometry":null,"properties":{
		"depth":1.25,"count":12,"key":9007199254740993,"huge":1e999,"list":[{"n":-9007199254740993}],"text":"9","none":null}}`))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]any{"depth": 1.25, "count": 12.0, "key": json.Number("9007199254740993"), "huge": json.Number("1e999"),
		"list": []any{map[string]any{"n": json.Number("-9007199254740993")}}, "text": "9", "none": nil}
	if !reflect.DeepEqual(features[0].Properties, want) {
		t.Errorf("got %#v, want %#v", features[0].Properties, want)
	}
}

// Features without a place are counted too.
func TestTooManyFeatures(t *testing.T) {
	one := `{"type":"Feature","geometry":null,"properties":null}`
	_, err := Read([]byte(`{"type":"FeatureCollection","features":[` + strings.Repeat(one+",", MaxPositions) + one + `]}`))
	var bad *fault.Fault
	if !errors.As(err, &bad) || bad.Kind != RuleSize || !strings.Contains(bad.Detail, "1000000 features") {
		t.Errorf("%v", err)
	}
}

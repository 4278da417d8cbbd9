package vector

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

func readWKT(text string) ([]geojson.Feature, Info, error) {
	return Read(File{Name: "a.wkt", Data: []byte(text)}, Areas)
}

func TestWKT(t *testing.T) {
	ring := orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 0}}
	tests := []struct {
		name, in string
		out      orb.Geometry
	}{
		{"point", "POINT(-105.5 40.25)", orb.Point{-105.5, 40.25}},
		{"point, wide and small", " point\n(\t-1e1  4.0E1 ) ", orb.Point{-10, 40}},
		{"height", "POINT Z (1 2 3)", orb.Point{1, 2}},
		{"height and measure, in one word", "POINTZM(1 2 3 4)", orb.Point{1, 2}},
		{"height that is not said", "POINT (1 2 nan)", orb.Point{1, 2}},
		{"line", "LINESTRING (1 2, 3 4)", orb.LineString{{1, 2}, {3, 4}}},
		{"polygon with a hole", "POLYGON ((0 0, 1 0, 1 1, 0 0),(0 0, 1 0, 1 1, 0 0))", orb.Polygon{ring, ring}},
		{"points", "MULTIPOINT (1 2, 3 4)", orb.MultiPoint{{1, 2}, {3, 4}}},
		{"points in brackets", "MULTIPOINT ((1 2), (3 4))", orb.MultiPoint{{1, 2}, {3, 4}}},
		{"lines", "MULTILINESTRING M ((1 2 0, 3 4 0), (5 6 0, 7 8 0))", orb.MultiLineString{{{1, 2}, {3, 4}}, {{5, 6}, {7, 8}}}},
		{"polygons", "MULTIPOLYGON (((0 0, 1 0, 1 1, 0 0)), ((0 0, 1 0, 1 1, 0 0)))", orb.MultiPolygon{{ring}, {ring}}},
		{"collection", "GEOMETRYCOLLECTION (POINT (1 2), LINESTRING EMPTY, POLYGON ((0 0, 1 0, 1 1, 0 0)))", orb.Collection{orb.Point{1, 2}, orb.Polygon{ring}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, info, err := readWKT(test.in)
			if err != nil || len(features) != 1 || !reflect.DeepEqual(features[0].Geometry, test.out) {
				t.Fatalf("got %v, %v", features, err)
			}
			if info.Datum != "" {
				t.Errorf("datum %q", info.Datum)
			}
			noted(t, info, "does not name its datum")
		})
	}
}

func TestWKTOfSeveral(t *testing.T) {
	features, info, err := readWKT("\xef\xbb\xbfSRID=4326;POINT(1 2)\r\nPOINT EMPTY\nSRID=4326; POINT(3 4);\nPOINT(5 6)\n")
	if err != nil || len(features) != 3 || features[2].Place != "line 4" || features[1].Place != "line 3" || info.Datum != "WGS 84" {
		t.Errorf("%v, %v, %v", features, info, err)
	}
	noted(t, info, "1 empty shape was")
}

func TestWKTRefuses(t *testing.T) {
	tests := []struct {
		name, in    string
		rule        *fault.Kind
		place, word string
	}{
		{"another SRID", "SRID=26913;POINT(500000 4e6)\nSRID=4326;POINT(1 2)", geojson.RuleCRS, "line 2", `"4326"`},
		{"an unknown SRID", "SRID=27700;POINT(400000 1e5)", geojson.RuleCRS, "line 1, EPSG:27700", "within a few meters"},
		{"no SRID", "SRID=;POINT(1 2)", geojson.RuleCRS, "line 1, system", `""`},
		{"a curve", "\nCIRCULARSTRING(1 2, 3 4, 5 6)", RuleWKT, "line 2", "CIRCULARSTRING"},
		{"one number", "POINT(1)", RuleWKT, "line 1", "1 numbers"},
		{"five numbers", "POINT(1 2 3 4 5)", RuleWKT, "line 1", "5 numbers"},
		{"a comma inside", "POINT(1, 2)", RuleWKT, "line 1", "1 numbers"},
		{"not a number", "POINT(1 inf)", RuleWKT, "line 1", `"inf"`},
		{"a decimal comma", "POINT(1,5 2,5)", RuleWKT, "line 1", "1 numbers"},
		{"a number with two decimal points", "POINT(40.5.5 1)", RuleWKT, "line 1", `"40.5.5"`},
		{"numbers run together", "POINT(40-105 1)", RuleWKT, "line 1", `"40-105"`},
		{"a hexadecimal", "POINT(0x1p4 1)", RuleWKT, "line 1", `"0x1p4"`},
		{"two points", "POINT(1 2, 3 4)", RuleWKT, "line 1", "expected ')'"},
		{"cut off", "POLYGON((0 0, 1 0", RuleWKT, "line 1", "unexpected EOF"},
		{"something after", "POINT(1 2) x", RuleWKT, "line 1", "not the text of a shape"},
		{"nested collections", "GEOMETRYCOLLECTION(GEOMETRYCOLLECTION(POINT(1 2)))", geojson.RuleNesting, "line 1", "inside"},
		{"an open ring", "POINT(1 2)\nPOLYGON((0 0, 1 0, 1 1, 0 1))", geojson.RuleOpenRing, "line 2, ring 1, position 4", "closed"},
		{"a line of one", "LINESTRING(1 2)", geojson.RuleLine, "line 1", "1 positions"},
		{"swapped", "POINT(40 -105)", geojson.RuleLatitude, "line 1", "longitude comes first"},
		{"not UTF-8", "POINT(1 2)\xff", geojson.RuleEncoding, "file", "UTF-8"},
		{"nothing but empty", "POINT EMPTY", geojson.RuleEmpty, "file", "1 empty shape"},
		{"positions without end", "MULTIPOINT(" + strings.Repeat("1 1,", geojson.MaxPositions) + "1 1)", geojson.RuleSize, "line 1", "1000000"},
		{"rings without end", "POLYGON(" + strings.Repeat("(1 1),", MaxParts) + "(1 1))", geojson.RuleSize, "line 1", "100000"},
		{"points of their own without end", strings.Repeat("POINT(1 1) ", MaxParts+1), geojson.RuleSize, "line 1", "100000"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readWKT(test.in)
			refusal(t, err, test.rule, test.place, test.word)
		})
	}
}

// Written by fmt, read again: any numbers and any number of them.
func TestWKTGivesWhatWasWritten(t *testing.T) {
	for n := 2; n < 200; n += 13 {
		var line orb.LineString
		var text []string
		for i := range n {
			p := orb.Point{-180 + float64(i)*0.123456789, 90 - float64(i)*1e-7}
			line = append(line, p)
			text = append(text, fmt.Sprintf("%v %v", p[0], p[1]))
		}
		features, _, err := readWKT("LINESTRING(" + strings.Join(text, ",") + ")")
		if err != nil || !reflect.DeepEqual(features[0].Geometry, line) {
			t.Errorf("%d positions: %v", n, err)
		}
	}
}

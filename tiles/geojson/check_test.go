package geojson

import (
	"bytes"
	"errors"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

func TestCheck(t *testing.T) {
	ring := orb.Ring{{-105, 40}, {-104, 40}, {-104, 41}, {-105, 40}}
	tests := []struct {
		name  string
		in    orb.Geometry
		rule  *fault.Kind
		place string // "" means that it is taken
	}{
		{"nothing", nil, nil, ""},
		{"point", orb.Point{180, -90}, nil, ""},
		{"box of the world", orb.MultiPoint{{-180, -90}, {180, 90}}, nil, ""},
		{"polygon with a hole", orb.Polygon{ring, ring}, nil, ""},
		{"collection", orb.Collection{ring, orb.LineString{{1, 1}, {2, 2}}}, nil, ""},
		{"not a number", orb.LineString{{0, 0}, {math.NaN(), 0}}, RuleNumber, "here, position 2"},
		{"infinite", orb.Point{0, math.Inf(-1)}, RuleNumber, "here"},
		{"opposite infinities", orb.Point{math.Inf(1), math.Inf(-1)}, RuleNumber, "here"},
		{"metres", orb.Point{500000, 4428000}, RuleLongitude, "here"},
		{"swapped", orb.Point{40, -105}, RuleLatitude, "here"},
		{"one position", orb.MultiLineString{{{0, 0}, {1, 1}}, {{0, 0}}}, RuleLine, "here, line 2"},
		{"no ring", orb.MultiPolygon{{}}, RuleRing, "here, polygon 1"},
		{"three positions", orb.Polygon{ring[:3]}, RuleRing, "here, ring 1"},
		{"open", orb.Polygon{ring, {{0, 0}, {1, 0}, {1, 1}, {0, 1}}}, RuleOpenRing, "here, ring 2, position 4"},
		{"across the antimeridian", orb.LineString{{179, 0}, {-179, 0}}, RuleAntimeridian, "here, position 2"},
		{"nested collection", orb.Collection{orb.Collection{}}, RuleNesting, "here, geometry 1"},
		{"a box", orb.Bound{}, RuleType, "here"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			err := Check(test.in, "here")
			if test.rule == nil {
				if err != nil {
					t.Fatalf("refused: %v", err)
				}
				return
			}
			var f *fault.Fault
			if !errors.As(err, &f) || f.Kind != test.rule || f.Place != test.place || f.Remedy == "" {
				t.Errorf("%#v; want rule %q at %q", err, test.rule, test.place)
			}
		})
	}
}

// What Read takes, Check takes too: one set of rules.
func TestCheckAgreesWithRead(t *testing.T) {
	for _, g := range []orb.Geometry{
		orb.Point{1, 2}, orb.MultiPoint{}, orb.MultiPolygon{},
		orb.LineString{{0, 0}, {1, 1}}, orb.LineString{{0, 0}}, orb.LineString{{-100, 0}, {100, 0}},
		orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}, orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}}, orb.Polygon{},
		orb.Point{91, 91}, orb.Point{1, 91}, orb.Point{181, 1},
	} {
		var b bytes.Buffer
		if err := Write(&b, []Feature{{Geometry: g}}); err != nil {
			t.Fatal(err)
		}
		_, read := Read(b.Bytes())
		if check := Check(g, "feature 1"); (read == nil) != (check == nil) {
			t.Errorf("%v: Read says %v, Check says %v", g, read, check)
		}
	}
}

package area

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

func read(t *testing.T, text string) []geojson.Feature {
	t.Helper()
	features, err := geojson.Read([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return features
}

func one(g orb.Geometry) []geojson.Feature {
	return []geojson.Feature{{Geometry: g, Place: "feature 1"}}
}

func TestPolygons(t *testing.T) {
	features := read(t, `{"type":"FeatureCollection","features":[
		{"type":"Feature","geometry":null,"properties":{}},
		{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,0],[1,1],[0,0]]]},"properties":{}},
		{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[
			{"type":"MultiPolygon","coordinates":[[[[2,0],[3,0],[3,1],[2,0]]],[[[2.5,0],[4,0],[4,1],[2.5,0]]]]}]},"properties":{}}]}`)
	a, err := Polygons(features)
	if err != nil || len(a.Polygons) != 3 || a.Empty() {
		t.Errorf("%v, %v; want three polygons", a, err)
	}
}

func TestRoute(t *testing.T) {
	features := read(t, `{"type":"MultiLineString","coordinates":[[[0,0],[1,0]],[[2,0],[3,1]]]}`)
	a, err := Route(features, 12)
	if err != nil || len(a.Strips) != 2 || a.Strips[1].HalfWidth != 6 {
		t.Errorf("%v, %v; want two strips of 6 m each side", a, err)
	}
}

func TestRefused(t *testing.T) {
	polygon := func(rings ...orb.Ring) func() (Area, error) {
		return func() (Area, error) { return Polygons(one(orb.Polygon(rings))) }
	}
	route := func(g orb.Geometry, width float64) func() (Area, error) {
		return func() (Area, error) { return Route(one(g), width) }
	}
	around := func(lat, lon, radius float64) func() (Area, error) {
		return func() (Area, error) { return Around(lat, lon, radius) }
	}
	line := orb.LineString{{0, 0}, {1, 1}}
	box := orb.Ring{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}
	many := make(orb.LineString, MaxPositions+1)
	tests := []struct {
		name        string
		make        func() (Area, error)
		rule        *fault.Kind
		place, says string
	}{
		{"line for an area", func() (Area, error) { return Polygons(one(line)) }, RuleKind, "feature 1", "LineString: an area needs a Polygon or MultiPolygon; for a line give a route with a width"},
		{"point for an area", func() (Area, error) { return Polygons(one(orb.Collection{box, orb.Point{}})) }, RuleKind, "feature 1, geometry 2", "Point: an area needs"},
		{"nothing for an area", func() (Area, error) { return Polygons(one(nil)) }, RuleNothing, "file", "no polygon"},
		{"polygon for a route", route(orb.Polygon{box}, 1), RuleKind, "feature 1", "Polygon: a route needs"},
		{"nothing for a route", route(orb.MultiLineString{}, 1), RuleNothing, "file", "no line"},
		{"negative width", route(line, -1), RuleNumber, "", "width is -1"},
		{"width not a number", route(line, math.NaN()), RuleNumber, "", "NaN"},
		{"width too large", route(line, 3*MaxReach), RuleNumber, "", "0 to 200000 meters"},
		{"line without length", route(orb.LineString{{1, 1}, {1, 1}}, 1), RuleFlat, "feature 1", "no length"},
		{"route beyond Web Mercator", route(orb.MultiLineString{line, {{100, 0}, {100, 86}}}, 1), RuleMercator, "feature 1, line 2, position 2", "85.0511"},
		{"bow tie", polygon(orb.Ring{{-105, 40}, {-104, 41}, {-104, 40}, {-105, 41}, {-105, 40}}), RuleSelfCrossing, "feature 1, ring 1, at or near 40.50000, -104.50000", "crosses itself or runs along itself"},
		{"spike", polygon(orb.Ring{{0, 0}, {4, 0}, {4, 4}, {4, 6}, {4, 4}, {0, 4}, {0, 0}}), RuleSelfCrossing, "feature 1, ring 1, at or near 6.00000, 4.00000", "crosses itself or runs along itself"},
		{"crossing after repeated positions", polygon(orb.Ring{{0, 0}, {0, 0}, {2, 2}, {2, 2}, {2, 0}, {0, 2}, {0, 0}}), RuleSelfCrossing, "feature 1, ring 1, at or near 1.00000, 1.00000", "crosses itself or runs along itself"},
		{"hole outside", polygon(box, orb.Ring{{20, 1}, {21, 1}, {21, 2}, {20, 1}}), RuleHole, "feature 1, at or near 1.00000, 20.00000", "outside"},
		{"hole outside, touching", polygon(box, orb.Ring{{10, 5}, {12, 4}, {12, 6}, {10, 5}}), RuleHole, "feature 1, at or near 4.00000, 12.00000", "outside"},
		{"hole in a hole, touching", polygon(box, orb.Ring{{1, 1}, {9, 1}, {9, 9}, {1, 1}}, orb.Ring{{1, 1}, {7, 3}, {7, 4}, {1, 1}}), RuleHole, "feature 1, at or near 3.00000, 7.00000", "another hole"},
		{"hole round a hole, touching", polygon(box, orb.Ring{{1, 1}, {7, 3}, {7, 4}, {1, 1}}, orb.Ring{{1, 1}, {9, 1}, {9, 9}, {1, 1}}), RuleHole, "feature 1, at or near 1.00000, 9.00000", "another hole"},
		{"hole in a hole", polygon(box, orb.Ring{{1, 1}, {9, 1}, {9, 9}, {1, 1}}, orb.Ring{{5, 2}, {6, 2}, {6, 3}, {5, 2}}), RuleHole, "feature 1, at or near 2.00000, 5.00000", "another hole"},
		{"hole over the border", polygon(box, orb.Ring{{5, 5}, {15, 5}, {5, 6}, {5, 5}}), RuleRings, "feature 1, at or near 5.00000, 10.00000", "cross or share"},
		{"hole that cuts in two", polygon(box, orb.Ring{{5, 0}, {6, 5}, {5, 5}, {5, 0}}, orb.Ring{{6, 5}, {7, 7}, {5, 10}, {6, 5}}), RuleRings, "feature 1, at or near 0.00000, 5.00000", "in two"},
		{"flat", polygon(orb.Ring{{0, 0}, {1, 1}, {2, 2}, {0, 0}}), RuleFlat, "feature 1, ring 1, at or near 0.00000, 0.00000", "no area"},
		{"all one place", polygon(orb.Ring{{1, 2}, {1, 2}, {1, 2}, {1, 2}}), RuleFlat, "feature 1, ring 1, at or near 2.00000, 1.00000", "no area"},
		{"no ring", polygon(), RuleFlat, "feature 1", "no ring"},
		{"empty ring", polygon(orb.Ring{}), RuleFlat, "feature 1, ring 1", "no area"},
		{"not closed", polygon(orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 1}}), geojson.RuleOpenRing, "feature 1, at or near 0.00000, 0.00000", "not closed"},
		{"swapped", polygon(orb.Ring{{40, -105}, {40, -106}, {41, -106}, {40, -105}}), geojson.RuleLatitude, "feature 1, ring 1, position 1", "latitude -105 is impossible; are latitude and longitude swapped?"},
		{"swapped, not past the pole", polygon(orb.Ring{{40, -88}, {40, -89}, {41, -89}, {40, -88}}), RuleMercator, "feature 1, ring 1, position 1", "swapped?"},
		{"far north, not swapped", polygon(orb.Ring{{-105, 86}, {-104, 86}, {-104, 87}, {-105, 86}}), RuleMercator, "feature 1, ring 1, position 1", "do not reach the poles"},
		{"not a number", polygon(orb.Ring{{0, 0}, {math.NaN(), 0}, {1, 1}, {0, 0}}), geojson.RuleLongitude, "feature 1, ring 1, position 2", "NaN"},
		{"too many positions", route(many, 1), RuleTooMany, "feature 1", "200000"},
		{"circle beyond Web Mercator", around(86, 100, 1), RuleMercator, "place", "85.0511"},
		{"circle with swapped place", around(-105, 40, 1), geojson.RuleLatitude, "place", "swapped?"},
		{"circle past 180", around(40, 181, 1), geojson.RuleLongitude, "place", "181"},
		{"circle too large", around(40, -105, 1e6), RuleNumber, "", "0 to 100000"},
		{"circle not a number", around(math.NaN(), -105, 1), geojson.RuleLatitude, "place", "NaN"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			a, err := test.make()
			var bad *fault.Fault
			if !errors.As(err, &bad) || !a.Empty() {
				t.Fatalf("got %v, %v; want a fault", a, err)
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

func TestBounds(t *testing.T) {
	disc, err := Around(40, -105, 111034.63/1000)
	if err != nil {
		t.Fatal(err)
	}
	b := disc.Bounds()
	// One degree at latitude 40 is 111034.63 m by 85393.86 m (calculated).
	east := 111.03463 / 85393.86
	for name, pair := range map[string][2]float64{
		"west": {b.West, -105 - east}, "east": {b.East, -105 + east}, "south": {b.South, 39.999}, "north": {b.North, 40.001},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-8 {
			t.Errorf("%s %.9f, want %.9f", name, pair[0], pair[1])
		}
	}
	polygon := Area{Polygons: orb.MultiPolygon{{{{-106, 39}, {-105.5, 39}, {-105.5, 39.5}, {-106, 39}}}}}
	if b := polygon.Join(disc).Bounds(); math.Abs(b.West+106) > 1e-12 || math.Abs(b.North-40.001) > 1e-8 {
		t.Errorf("joined: %v", b)
	}
	over, err := Around(0, 179.9999, 100)
	if err != nil {
		t.Fatal(err)
	}
	if b := over.Bounds(); b.West != -180 || b.East != 180 {
		t.Errorf("over the antimeridian: %v", b)
	}
	if b := (Area{}).Bounds(); b.West != 0 || b.East != 0 {
		t.Errorf("empty: %v", b)
	}
}

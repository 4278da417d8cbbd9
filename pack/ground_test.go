package pack

import (
	"bytes"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/area"
)

// TestGround: routes come back as they were, in their order; what else the dig
// area is stands apart, and only beside routes.
func TestGround(t *testing.T) {
	first, second := orb.LineString{{-105, 40}, {-105.001, 40.001}}, orb.LineString{{-105, 40.002}, {-105.002, 40.002}}
	routes := area.Area{Strips: []area.Strip{{Line: first, HalfWidth: 9.144}, {Line: second, HalfWidth: 3}}}
	round := area.Area{Discs: []area.Disc{{Center: orb.Point{-105.01, 40}, Radius: 20}}}
	for name, c := range map[string]struct {
		area   area.Area
		routes []Route
		apart  int
	}{
		"routes":       {routes, []Route{{first, 18.288}, {second, 6}}, 0},
		"a circle":     {round, nil, 0},
		"both":         {routes.Join(round), []Route{{first, 18.288}, {second, 6}}, 1},
		"a bare line":  {area.Area{Strips: []area.Strip{{Line: first}}}.Join(round), nil, 0},
		"one and only": {area.Area{Strips: routes.Strips[:1]}, []Route{{first, 18.288}}, 0},
	} {
		text, err := NewGround(c.area, c.area.Outline(0), 10).GeoJSON()
		if err != nil {
			t.Fatal(err)
		}
		g, err := ReadGround(text)
		if err != nil || !reflect.DeepEqual(g.Routes, c.routes) || len(g.Apart) != c.apart || len(g.Area) == 0 || len(g.Margin) == 0 {
			t.Errorf("%s: %v, %+v", name, err, g)
		}
		if c.routes == nil && bytes.Count(text, []byte(`"part"`)) != 2 {
			t.Errorf("%s: without a route the ground is no longer as it was: %s", name, text)
		}
	}
}

func TestGroundRefused(t *testing.T) {
	const square = `{"type":"Feature","properties":{"part":"area"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}}`
	for name, feature := range map[string]string{
		"no width":    `{"type":"Feature","properties":{"part":"route"},"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}}`,
		"width below": `{"type":"Feature","properties":{"part":"route","width_m":-1},"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}}`,
		"a point":     `{"type":"Feature","properties":{"part":"route","width_m":5},"geometry":{"type":"Point","coordinates":[0,0]}}`,
	} {
		if g, err := ReadGround([]byte(`{"type":"FeatureCollection","features":[` + square + "," + feature + `]}`)); err == nil {
			t.Errorf("%s: %+v", name, g)
		}
	}
	if _, err := ReadGround([]byte(`{"type":"FeatureCollection","features":[]}`)); err == nil {
		t.Error("no area at all")
	}
}

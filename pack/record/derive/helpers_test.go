package derive

import (
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// at is a place some meters east and north of 40 N, 105 W.
func at(east, north float64) orb.Point {
	return geodesic.At(orb.Point{-105, 40}).Degrees(orb.Point{east, north})
}

func lineOf(properties map[string]any, points ...orb.Point) geojson.Feature {
	return geojson.Feature{Geometry: orb.LineString(points), Properties: properties, Place: "feature"}
}

func reading(line string, p orb.Point, more map[string]any) geojson.Feature {
	properties := map[string]any{"line": line}
	for k, v := range more {
		properties[k] = v
	}
	return geojson.Feature{Geometry: p, Properties: properties, Place: "feature"}
}

func recordOf(t *testing.T, id, utility string, features ...geojson.Feature) record.Overlay {
	t.Helper()
	o, err := record.New(features, record.Meta{File: id + ".geojson", Utility: utility}, id)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

var at0, at1 = at(0, 0), at(10, 0)

func depth(m float64) map[string]any { return map[string]any{"depth_m": m} }

func stated(status any) map[string]any { return map[string]any{"status": status} }

package record

import (
	"strings"
	"testing"

	"groundsheet/tiles/geojson"
)

func fieldFeatures(t *testing.T) []geojson.Feature {
	t.Helper()
	features, err := geojson.Read([]byte(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"COVER":3.5,"MATL":"PVC","QL":"QL-B","DIAM":"6 in"},"geometry":{"type":"Point","coordinates":[-105,40]}},
		{"type":"Feature","properties":{"COVER":null,"MATL":"","QL":"d","DIAM":null},"geometry":{"type":"Point","coordinates":[-105,40.001]}},
		{"type":"Feature","properties":{"COVER":"4'","MATL":"DI","QL":null,"DIAM":"8 in"},"geometry":{"type":"Point","coordinates":[-105,40.002]}}]}`))
	if err != nil {
		t.Fatal(err)
	}
	return features
}

func TestFieldsOfFeatures(t *testing.T) {
	m := Meta{File: "overlays/water.shp", Utility: "water"}
	m.Columns = map[string]string{"depth": "COVER", "material": "MATL", "quality_level": "QL", "size": "DIAM"}
	m.Units = map[string]string{"depth": "ft"}
	o, err := New(fieldFeatures(t), m, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	p := o.Features[0].Properties
	if p["depth_m"] != 1.0668 || p["depth_as_written"] != "3.5 ft" || p["material"] != "PVC" || p["quality_level"] != "B" || p["width_m"] != 0.1524 {
		t.Errorf("%v", p)
	}
	if p["COVER"] != nil || o.Features[1].Properties["depth_m"] != nil || o.Features[2].Properties["depth_m"] != 1.2192 {
		t.Errorf("%v, %v", o.Features[1].Properties, o.Features[2].Properties)
	}
}

func TestFieldsThatAreWrong(t *testing.T) {
	tests := map[string]struct {
		columns, units map[string]string
		says           string
	}{
		"no such meaning": {map[string]string{"colour": "MATL"}, nil, "not something a field can mean"},
		"no such field":   {map[string]string{"depth": "DEEP"}, nil, `no feature has a field "DEEP"`},
		"no unit":         {map[string]string{"depth": "COVER"}, nil, `feature 1: COVER: "3.5" has no unit`},
		"unknown unit":    {map[string]string{"depth": "COVER"}, map[string]string{"depth": "furlong"}, "not a unit known here"},
	}
	for name, test := range tests {
		m := Meta{File: "overlays/water.shp", Utility: "water"}
		m.Columns, m.Units = test.columns, test.units
		if _, err := New(fieldFeatures(t), m, "1"); err == nil || !strings.Contains(err.Error(), test.says) {
			t.Errorf("%s: %v; want %q", name, err, test.says)
		}
	}
	m := Meta{File: "overlays/water.shp", Utility: "water"}
	m.Columns = map[string]string{"depth": "COVER"}
	m.Units = map[string]string{"depth": "m"}
	unread, err := Unread(fieldFeatures(t), m)
	if err != nil || len(unread) != 1 || unread[0].Where != "feature 3" {
		t.Errorf("%v, %v", unread, err)
	}
}

package record

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

func TestWhatIsATestHole(t *testing.T) {
	for name, c := range map[string]struct {
		properties map[string]any
		want       bool
	}{
		"by its kind":               {map[string]any{"kind": "Test Hole"}, true},
		"by its type":               {map[string]any{"type": "POTHOLE"}, true},
		"exposed depth":             {map[string]any{"quality_level": "a", "depth": "3ft"}, true},
		"level A without a depth":   {map[string]any{"quality_level": "A"}, false},
		"level B":                   {map[string]any{"quality_level": "B", "depth": "3ft"}, false},
		"a locator's, called A":     {map[string]any{"quality_level": "A", "depth": "3ft", "frequency_hz": 8192.0}, false},
		"a locator's current alone": {map[string]any{"quality_level": "A", "depth": "3ft", "current_ma": 9.0}, false},
		"another kind":              {map[string]any{"kind": "valve"}, false},
	} {
		for _, g := range []orb.Geometry{at(0, 0), orb.MultiPoint{at(0, 0), at(1, 0)}, orb.LineString{at0, at1}} {
			o := recordOf(t, "w", "water", geojson.Feature{Geometry: g, Properties: c.properties, Place: "feature 1"})
			n := 1
			if many, is := g.(orb.MultiPoint); is {
				n = len(many)
			}
			_, isLine := g.(orb.LineString)
			want := c.want && !isLine
			if o.IsTestHole(o.Features[0]) != want || (o.Features[0].Properties[KindProperty] == TestHole) != want {
				t.Errorf("%s, %s: %v", name, g.GeoJSONType(), o.Features[0].Properties)
			}
			switch {
			case isLine:
			case want && (o.TestHoles() != n || o.Readings() != 0), !want && (o.TestHoles() != 0 || o.Readings() != n):
				t.Errorf("%s, %s: %d test holes, %d readings", name, g.GeoJSONType(), o.TestHoles(), o.Readings())
			}
		}
	}
	// The level of the record as a whole counts as its own.
	o, err := New([]geojson.Feature{{Geometry: at(0, 0), Properties: depth(1), Place: "feature 1"}}, Meta{File: "w", Utility: "water", QualityLevel: "A"}, "w")
	if err != nil || o.TestHoles() != 1 {
		t.Error(err, o.Features)
	}
}

func TestPhotoIsANameAlone(t *testing.T) {
	for photo, want := range map[string]string{"th1.jpg": "th1.jpg", `C:\office\Jane\th1.jpg`: "th1.jpg", "/home/jane/th1.jpg": "th1.jpg", "../th 1.jpg": "th 1.jpg"} {
		o := recordOf(t, "w", "water", reading("W", at(0, 0), map[string]any{"photo": photo}))
		if got := o.Features[0].Properties["photo"]; got != want {
			t.Errorf("%q: %q", photo, got)
		}
	}
}

func TestTestHoleInATable(t *testing.T) {
	in := table("Kind,Depth (in),Depth of,Elevation (ft),Vertical datum,Who,Photo,Status,Type", `test hole,41,top,12.30,NAVD 88,crew 4,p\1.jpg,live,water`, "reading,40,,,,,,,pothole", ",39,,,,,,idle,gas")
	o, err := FromTable(in, water(), "w", TableFormat{})
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]any{"elevation": "12.30 ft", "vertical_datum": "NAVD 88", "who": "crew 4", "photo": "1.jpg", KindProperty: TestHole, StateProperty: "in service", "depth_of": "top"} {
		if got := o.Features[0].Properties[key]; got != want {
			t.Errorf("%s is %v, want %v", key, got, want)
		}
	}
	if o.TestHoles() != 2 || o.Readings() != 1 {
		t.Errorf("%d test holes, %d readings", o.TestHoles(), o.Readings())
	}
	types := 0
	for _, f := range o.Findings {
		if f.Kind == "type" {
			types++
			if !strings.HasPrefix(f.Detail, "1 row (") {
				t.Error(f.Detail)
			}
		}
	}
	if types != 1 {
		t.Errorf("%d findings of other types", types)
	}
}

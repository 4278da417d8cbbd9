package record

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

func TestLevel(t *testing.T) {
	for stated, want := range map[string]string{
		"B": "B", "b": "B", " b ": "B", "QL-B": "B", "QLB": "B", "ql b": "B", "QL_B": "B", "Level B": "B", "quality level b": "B", "Quality Level: D": "D", "QL-A": "A", "quality_level_c": "C",
		"": "", "E": "", "AB": "", "B?": "", "B or C": "", "survey": "", "level": "", "QL": "", "QL-1": "", "B-QL": "",
	} {
		level, ok := Level(stated)
		if ok != (want != "") || ok && level != want || !ok && level != strings.TrimSpace(stated) {
			t.Errorf("%q: %q, %v; want %q", stated, level, ok, want)
		}
		if s := SymbologyOf("water", stated); s.Level != want {
			t.Errorf("%q is drawn as level %q", stated, s.Level)
		}
	}
}

// TestLevelsOfOverlay: features, rows and the record itself are read alike;
// other words stay and are told once.
func TestLevelsOfOverlay(t *testing.T) {
	m := water()
	m.QualityLevel = "QL-D"
	point := func(level any) geojson.Feature {
		return geojson.Feature{Geometry: orb.Point{-105, 40}, Properties: map[string]any{"quality_level": level}}
	}
	o, err := New([]geojson.Feature{point("level b"), point("good"), point("fair"), point("good"), point(nil)}, m, "w")
	if err != nil || o.QualityLevel != "D" || o.Features[0].Properties["quality_level"] != "B" || o.Features[1].Properties["quality_level"] != "good" {
		t.Fatalf("%v %+v", err, o)
	}
	if len(o.Findings) != 1 || o.Findings[0].Kind != "quality level" || o.Findings[0].Severity != Warning ||
		o.Findings[0].Detail != `3 features state a quality level that is none of A to D ("good", "fair"): they are drawn as "not stated"` {
		t.Errorf("%+v", o.Findings)
	}
	o, err = FromTable(table("QL", "QL-B", "c", ""), m, "w", TableFormat{})
	if err != nil || o.Features[0].Properties["quality_level"] != "B" || o.Features[1].Properties["quality_level"] != "C" {
		t.Errorf("%v %+v", err, o.Features)
	}
	for _, f := range o.Findings {
		if f.Kind == "quality level" {
			t.Errorf("%+v", f)
		}
	}
	m.QualityLevel = "as surveyed"
	if o, err = New([]geojson.Feature{point(nil)}, m, "w"); err != nil || len(o.Findings) != 1 || o.QualityLevel != "as surveyed" {
		t.Errorf("%v %+v", err, o)
	}
}

package dxf

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

func TestWriteIsReadBack(t *testing.T) {
	d := Drawn{
		Styles: []Style{{"FOUND-WATER", 5, false}, {"FOUND-GAS", 2, true}},
		Shapes: []Shape{
			{Layer: "FOUND-WATER", Geometry: orb.Point{3071258.1213, 1247429.6175}},
			{Layer: "FOUND-WATER", Geometry: orb.Point{3071258.2, 1247429.7}, Text: "W 3'4\" <b> 水", Height: 1.5},
			{Layer: "FOUND-GAS", Geometry: orb.MultiLineString{{{0, 0}, {10, 0}}, {{20, 0}, {30, 5}, {40, 0}}}},
			{Layer: "FOUND-GAS", Geometry: orb.MultiPolygon{{{{0, 0}, {4, 0}, {4, 4}, {0, 0}}}}},
		},
	}
	data, err := d.Write()
	if err != nil {
		t.Fatal(err)
	}
	got, err := Read(data, Options{Tolerance: 0.001, Text: func(_ string, raw []byte) string { return string(raw) }})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Entities) != 5 {
		t.Fatalf("%+v", got)
	}
	if p := got.Entities[0].Geometry.(orb.Point); p != (orb.Point{3071258.1213, 1247429.6175}) {
		t.Error(p)
	}
	if text := got.Entities[1].Text; !strings.HasPrefix(text, `W 3'4" <b> `) {
		t.Errorf("%q", text)
	}
	if !got.Entities[4].Closed || got.Entities[4].Layer != "FOUND-GAS" {
		t.Errorf("%+v", got.Entities[4])
	}
}

func TestWriteRefuses(t *testing.T) {
	style := []Style{{"A", 1, false}}
	for name, d := range map[string]Drawn{
		"a layer's name": {Styles: []Style{{"a\n0\nEOF", 1, false}}},
		"a color":        {Styles: []Style{{"A", 256, false}}},
		"a layer twice":  {Styles: []Style{{"A", 1, false}, {"A", 2, false}}},
		"no layer":       {Styles: style, Shapes: []Shape{{Layer: "B", Geometry: orb.Point{}}}},
		"no place":       {Styles: style, Shapes: []Shape{{Layer: "A"}}},
		"nowhere":        {Styles: style, Shapes: []Shape{{Layer: "A", Geometry: orb.Point{math.NaN(), 0}}}},
		"a collection":   {Styles: style, Shapes: []Shape{{Layer: "A", Geometry: orb.Collection{orb.Point{}}}}},
	} {
		if _, err := d.Write(); err == nil {
			t.Errorf("%s: written", name)
		}
	}
}

// FuzzDrawable: no text begins another pair or has too many bytes.
func FuzzDrawable(f *testing.F) {
	f.Add("3' 4\"\r\n  0\r\nEOF\r\n")
	f.Add(strings.Repeat("水", 300))
	f.Add("%%c ^J \\P {\\H3x;}")
	f.Fuzz(func(t *testing.T, text string) {
		got := drawable(text)
		if len(got) > mostDrawn || strings.ContainsAny(got, "\r\n\x00") {
			t.Errorf("%q became %q", text, got)
		}
		for _, r := range got {
			if r < ' ' || r > '~' {
				t.Errorf("%q became %q", text, got)
			}
		}
	})
}

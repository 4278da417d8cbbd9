package record

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

func point(properties string) []byte {
	return fmt.Appendf(nil, `{"type":"Feature","geometry":{"type":"Point","coordinates":[-105.01,40.01]},"properties":%s}`, properties)
}

func water() Meta { return Meta{File: "water.geojson", Utility: "water"} }

func TestDepthUnits(t *testing.T) {
	// 3 ft 5 in = 41 in (common practice, no source); 1 in = 2.54 cm exactly
	// (NIST SP 811, B.6).
	cases := map[string]float64{
		`{"depth":"3ft 5in"}`: 41 * 0.0254, `{"depth":"3'5\""}`: 41 * 0.0254, `{"depth_in":41}`: 41 * 0.0254,
		`{"depth_ft":3.5}`: 42 * 0.0254, `{"depth_m":1.04}`: 1.04, `{"Depth_CM":104}`: 1.04, `{"depth_ft":"3.5"}`: 42 * 0.0254, `{"depth_m":"1.04"}`: 1.04, `{"depth (ft)":3.5}`: 42 * 0.0254, `{"Depth in":41}`: 41 * 0.0254, `{"depth":"1.04 m"}`: 1.04,
	}
	for properties, want := range cases {
		t.Run(properties, func(t *testing.T) {
			o, err := Read(point(properties), water(), "w")
			if err != nil {
				t.Fatal(err)
			}
			got, ok := o.Features[0].Properties["depth_m"].(float64)
			if !ok {
				t.Fatalf("depth_m is no number: %v", o.Features[0].Properties)
			}
			if math.Abs(got-want) > 1e-7 {
				t.Errorf("%v m, want %v", got, want)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	cases := map[string]struct{ properties, says string }{
		"no unit":       {`{"depth":3.5}`, "no unit"},
		"no unit text":  {`{"depth":"3.5"}`, "unit"},
		"two depths":    {`{"depth_m":1,"depth_ft":3}`, "keep one"},
		"too deep":      {`{"depth_ft":900}`, "its unit may be wrong"},
		"negative":      {`{"depth_m":-1}`, "its unit may be wrong"},
		"two units":     {`{"depth_ft":"1.5m"}`, "the name says the unit"},
		"unit in both":  {`{"depth_m":"3ft 5in"}`, "the name says the unit"},
		"list as depth": {`{"depth":[1]}`, "neither"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := Read(point(c.properties), water(), "w")
			if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "water.geojson") {
				t.Errorf("message: %v", err)
			}
		})
	}
}

func TestUnknownStaysUnknown(t *testing.T) {
	o, err := Read(point(`{"note":"by the hydrant","depth":""}`), water(), "w")
	if err != nil {
		t.Fatal(err)
	}
	if _, has := o.Features[0].Properties["depth_m"]; has {
		t.Error("a depth was made up")
	}
	if o.QualityLevel != "" || o.Recorded != "" || o.Accuracy != nil {
		t.Errorf("metadata was made up: %+v", o.Meta)
	}
}

func TestMetaCheck(t *testing.T) {
	for name, m := range map[string]Meta{
		"no file": {Utility: "water"}, "no utility": {File: "a"}, "wrong utility": {File: "a", Utility: "telecom"},
		"wrong date": {File: "a", Utility: "gas", Recorded: "05/01/98"},
	} {
		if m.Check() == nil {
			t.Errorf("%s was let through", name)
		}
	}
	for _, date := range []string{"", "1998", "1998-05", "1998-05-01"} {
		if err := (Meta{File: "a", Utility: "gas", Recorded: date}).Check(); err != nil {
			t.Errorf("%q: %v", date, err)
		}
	}
}

func TestUnlocatedAreCounted(t *testing.T) {
	data := []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null,"properties":{}},
	 {"type":"Feature","geometry":{"type":"LineString","coordinates":[[-105,40],[-105.001,40.001]]},"properties":null}]}`)
	o, err := Read(data, water(), "w")
	if err != nil || o.Unlocated != 1 || len(o.Features) != 1 {
		t.Fatalf("%d unlocated, %d drawn, %v", o.Unlocated, len(o.Features), err)
	}
	if b := o.Bounds(); b.West != -105.001 || b.North != 40.001 {
		t.Errorf("bounds %v", b)
	}
	// Searched and nothing recorded is something worth knowing.
	if o, err := Read([]byte(`{"type":"FeatureCollection","features":[]}`), water(), "w"); err != nil || len(o.Features) != 0 || o.Bounds() != (tiles.Box{}) {
		t.Errorf("an empty record: %+v %v", o, err)
	}
}

func TestUtilityTable(t *testing.T) {
	// The six facility colors of the APWA Uniform Color Code, in the hex
	// values worked out for this project; letters must tell all apart.
	want := map[string]string{"electric": "#BC2221", "gas": "#ECC800", "communication": "#E57800", "water": "#005A98", "sewer": "#007453", "reclaimed": "#9E5390"}
	letters := map[string]string{}
	for _, u := range Utilities() {
		if hex, ok := want[u.Code]; ok && hex != u.Color {
			t.Errorf("%s is %s, want %s", u.Code, u.Color, hex)
		}
		if other, taken := letters[u.Letter]; taken {
			t.Errorf("%s and %s share the letter %s", u.Code, other, u.Letter)
		}
		letters[u.Letter] = u.Code
		if c := contrast(t, u.Color, u.Casing); c < 3 {
			t.Errorf("%s on its casing has contrast %.1f, want 3 (WCAG 2.2, 1.4.11)", u.Code, c)
		}
	}
}

// contrast is the contrast ratio of WCAG 2.2.
func contrast(t *testing.T, a, b string) float64 {
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func luminance(t *testing.T, hex string) float64 {
	var r, g, b int
	if _, err := fmt.Sscanf(hex, "#%02X%02X%02X", &r, &g, &b); err != nil {
		t.Fatal(hex, err)
	}
	lin := func(v int) float64 {
		c := float64(v) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(r) + 0.7152*lin(g) + 0.0722*lin(b)
}

func TestSlug(t *testing.T) {
	for in, want := range map[string]string{"overlays/Water 1998.geojson": "overlays-water-1998-geojson", "../..": "untitled", "Ümlaut": "mlaut", "": "untitled"} {
		if got := Slug(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(point(`{"depth":"3ft 5in"}`))
	f.Add(point(`{"depth_in":41,"accuracy":"2ft"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		o, err := Read(data, water(), "w")
		if err != nil {
			return
		}
		for _, feature := range o.Features {
			depth, given := feature.Properties["depth_m"]
			if d, ok := depth.(float64); given && depth != nil && depth != "" && (!ok || !(d >= 0 && d <= 100)) {
				t.Fatalf("depth %v", depth)
			}
		}
		var out bytes.Buffer
		if err := o.WriteGeoJSON(&out); err != nil {
			t.Fatal(err)
		}
		if _, err := geojson.Read(out.Bytes()); err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
	})
}

func TestAccuracy(t *testing.T) {
	two, _ := measure.ParseDistance("2ft")
	m := water()
	m.Accuracy = &two
	o, err := Read(point(`{"accuracy":"6in"}`), m, "w")
	if err != nil || o.Features[0].Properties["accuracy_m"] != 0.1524 || math.Abs(o.Accuracy.Meters()-0.6096) > 1e-12 {
		t.Errorf("%v %v %v", o.Features, o.Accuracy, err)
	}
}

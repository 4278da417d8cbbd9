package measure

import (
	"math"
	"testing"
)

// Inches across, by hand; 0 = not understood. DN is millimeters and NPS inches
// (ISO 6708; ASME B36.10M). The diagonal of 12 in by 8 in is √208 in.
func TestParseWidth(t *testing.T) {
	for text, inches := range map[string]float64{
		"6 in": 6, "6in": 6, "6-inch": 6, "6 inches": 6, `6"`: 6, "6″": 6, "6 in.": 6, "0.75 in": 0.75,
		"3/4 in": 0.75, `3/4"`: 0.75, "1 1/2 in": 1.5, `1-1/2"`: 1.5, "1-1/2 inch": 1.5, "1½ in": 1.5, `¾"`: 0.75, `4/4" PLA`: 1, "2 in PE": 2, `6" DI`: 6,
		"DN150": 150 / 25.4, "DN 150": 150 / 25.4, "300 mm": 300 / 25.4, "30 cm": 300 / 25.4, "1 ft": 12, "NPS 6": 6, "NPS 1-1/2": 1.5,
		"12 in x 8 in": math.Sqrt(208), "12x8 in": math.Sqrt(208), "2 x 4 in": math.Sqrt(20), "12 in × 8 in": math.Sqrt(208),
		"6": 0, "": 0, "unknown": 0, "3/0 in": 0, "6-hub": 0, "in": 0, "-6 in": 0, "40 ft": 0, "0 in": 0, "6 in/ft": 0, "6 x 8": 0, `2-4"`: 0, "2 to 4 in": 0, "1e3 in": 0,
		`4" in 12" casing`: 0, `4" & 6"`: 0, `2" conduit x 4`: 0, "4 in and 6 in": 0, "DN150 in DN300": 0, "6 in, 8 in": 0, "2 in 4x": 0, "12 in x 8 in x 4": 0,
		`6" DI CL 350`: 6, "2 in PE 3408": 2, `4" PE SDR 11`: 4, "4 in PVC (1998)": 4, "12 in x 8 in concrete": math.Sqrt(208),
	} {
		got, err := ParseWidth(text)
		if (err != nil) != (inches == 0) || math.Abs(got.Meters()/Inch-inches) > 1e-6 {
			t.Errorf("%q: %v in, %v; want %v in", text, got.Meters()/Inch, err, inches)
		}
	}
}

func FuzzParseWidth(f *testing.F) {
	for _, s := range []string{"6 in", "1-1/2\"", "12 in x 8 in", "DN150", "9/0 in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseWidth(s); err == nil && !(d > 0 && d <= widest) {
			t.Errorf("%q: %v", s, d)
		}
	})
}

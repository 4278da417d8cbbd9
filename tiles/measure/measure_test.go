package measure

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestParseDistance(t *testing.T) {
	// 1 ft = 0.3048 m exactly (NIST SP 811, B.6); 3 ft 5 in = 41 in and
	// 3 ft 4 in = 40 in are common practice, no source.
	cases := []struct {
		text string
		want float64
	}{
		{"50ft", 15.24}, {"50 ft", 15.24}, {"3 Feet", 0.9144}, {"15M", 15}, {"2 Inches", 0.0508}, {"24in", 0.6096}, {"15m", 15}, {"0.5mi", 804.672},
		{"3ft 5in", 41 * Inch}, {"3 ft 4 in", 40 * Inch}, {`3'5"`, 41 * Inch}, {"3′ 5″", 41 * Inch},
		{`41"`, 41 * Inch}, {"6'", 6 * Foot}, {"2km", 2000}, {"104cm", 1.04}, {"100yd", 91.44}, {"1.5ft", 1.5 * Foot}, {"0m", 0},
		{`3' 5 1/2"`, 41.5 * Inch}, {"3 ft 5-1/2 in", 41.5 * Inch}, {`3'-5"`, 41 * Inch}, {`3'-5 3/16"`, (41 + 3.0/16) * Inch}, {"3′5½″", 41.5 * Inch},
		{"1/2 ft", 6 * Inch}, {"½ ft", 6 * Inch}, {"5 1/2 in", 5.5 * Inch}, {"5-1/2in", 5.5 * Inch}, {"3 1/2 ft", 42 * Inch}, {"3''", 3 * Inch}, {"1/2 mi", 804.672},
	}
	for _, c := range cases {
		t.Run(c.text, func(t *testing.T) {
			got, err := ParseDistance(c.text)
			if err != nil || math.Abs(got.Meters()-c.want) > 1e-12 {
				t.Fatalf("got %v m, %v; want %v", got.Meters(), err, c.want)
			}
		})
	}
}

func TestParseDistanceRefuses(t *testing.T) {
	for _, text := range []string{"", "50", "ft", "-3ft", "NaNm", "infm", "3'13\"", "3.5'2\"", "1e400m", "three feet", "5 5ft", "12furlong", `"`, "'",
		"4-5 ft", "4 - 5 ft", "4 to 5 ft", "~4 ft", "±4 ft", "3/5 ft", "5/4 in", "4/4 in", "0/2 in", "1/0 in", "3'-5'", `3'--5"`, "3'-5", `3 1/2' 5"`, "1/2", "3 5/2 in", "-1/2 ft"} {
		if v, err := ParseDistance(text); err == nil {
			t.Errorf("%q was read as %v", text, v)
		} else if !strings.Contains(err.Error(), "distance") && !strings.Contains(err.Error(), "has no unit: write "+text+"ft, ") {
			t.Errorf("%q: the message does not say what was wrong: %v", text, err)
		}
	}
}

func TestTrimPlusMinus(t *testing.T) {
	for in, want := range map[string]string{"± 2 ft": "2 ft", "±6 in": "6 in", "+/- 2 ft": "2 ft", " + / - 2ft": "2ft", "+/−2": "2", "2 ft": "2 ft", "~2 ft": "~2 ft", "-2 ft": "-2 ft", "±": ""} {
		if got := TrimPlusMinus(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestSizesAndAges(t *testing.T) {
	if z, err := ParseSize("2GB"); err != nil || z != 2_000_000_000 {
		t.Errorf("2GB = %v, %v", z, err)
	}
	if a, err := ParseAge("90d"); err != nil || time.Duration(a) != 90*24*time.Hour {
		t.Errorf("90d = %v, %v", a, err)
	}
	if a, err := ParseAge("10y"); err != nil || time.Duration(a) != 87660*time.Hour || a.String() != "10 y" {
		t.Errorf("10y = %v, %v", a, err)
	}
	if _, err := ParseAge("300y"); err == nil {
		t.Error("300 years were read")
	}
	if _, err := ParseAge("90"); err == nil {
		t.Error("an age without a unit was read")
	}
	if s := Size(2_345_678).String(); s != "2.35 MB" {
		t.Errorf("size for people: %q", s)
	}
	if s := Age(36 * time.Hour).String(); s != "1.5 d" {
		t.Errorf("age for people: %q", s)
	}
}

func TestForPeople(t *testing.T) {
	cases := []struct {
		meters      float64
		units, want string
	}{
		{15.24, "us", "50 ft"}, {0.0572, "us", "2.25 in"}, {804.672, "us", "0.5 mi"},
		{0.0572, "metric", "5.72 cm"}, {15.24, "metric", "15.2 m"}, {1500, "metric", "1.5 km"},
	}
	for _, c := range cases {
		if got := Distance(c.meters).In(c.units); got != c.want {
			t.Errorf("%v m in %s: %q, want %q", c.meters, c.units, got, c.want)
		}
	}
	if got := Distance(41 * Inch).FeetInches(); got != "3′ 5″" {
		t.Errorf("41 in: %q", got)
	}
}

func TestSizeText(t *testing.T) {
	for typed, want := range map[string]string{"300MB": "300MB", "2GB": "2GB", "1.5GB": "1.5GB", "1500MB": "1.5GB", "123456789B": "123456.789kB", "1TB": "1TB", "999B": "999B", "0.25GB": "250MB"} {
		z, err := ParseSize(typed)
		back, again := ParseSize(z.Text())
		if err != nil || again != nil || z.Text() != want || back != z {
			t.Errorf("%s: %q %v %v", typed, z.Text(), err, again)
		}
	}
}

func FuzzParseDistance(f *testing.F) {
	for _, s := range []string{"50ft", `3'5"`, "3 ft 5 in", "1e9mi", "0.5mi", "'", `3'-5 1/2"`, "½ ft", "9/0 in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDistance(s)
		if err == nil && !(d >= 0) {
			t.Fatalf("%q gave %v", s, d)
		}
	})
}

func TestTextReadsBack(t *testing.T) {
	for text, units := range map[string]string{"50ft": "us", "24in": "us", "2.5in": "us", "7.5ft": "us", "15.24m": "metric", "0m": "us", "1.23456789m": "us", "60mi": "us"} {
		d, err := ParseDistance(text)
		if err != nil {
			t.Fatal(err)
		}
		got := d.Text(units)
		back, err := ParseDistance(got)
		if err != nil || math.Abs(float64(back-d)) > 1e-9 {
			t.Errorf("%s became %s", text, got)
		}
		if text != got && text != "24in" { // two feet
			t.Errorf("%s is written %s", text, got)
		}
	}
}

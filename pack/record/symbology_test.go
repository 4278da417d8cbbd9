package record

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"
)

// seen simulates a kind of sight on linear RGB: the matrices of Machado,
// Oliveira and Fernandes (IEEE TVCG 15/6, 2009) at full severity, from memory;
// gray is the luminance of WCAG 2.2.
func seen(kind string, rgb [3]float64) [3]float64 {
	m := map[string][9]float64{
		"full":         {1, 0, 0, 0, 1, 0, 0, 0, 1},
		"protanopia":   {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
		"deuteranopia": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
		"grey":         {0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722},
	}[kind]
	var out [3]float64
	for i := range out {
		out[i] = min(max(m[3*i]*rgb[0]+m[3*i+1]*rgb[1]+m[3*i+2]*rgb[2], 0), 1)
	}
	return out
}

func linear(t *testing.T, hex string) (rgb [3]float64) {
	var v [3]int
	if _, err := fmt.Sscanf(hex, "#%02X%02X%02X", &v[0], &v[1], &v[2]); err != nil {
		t.Fatal(err)
	}
	for i, c := range v {
		if s := float64(c) / 255; s <= 0.04045 {
			rgb[i] = s / 12.92
		} else {
			rgb[i] = math.Pow((s+0.055)/1.055, 2.4)
		}
	}
	return rgb
}

// lab is CIE L*a*b* of linear sRGB under D65.
func lab(c [3]float64) [3]float64 {
	f := func(v float64) float64 {
		if v > 216.0/24389 {
			return math.Cbrt(v)
		}
		return (24389.0/27*v + 16) / 116
	}
	x := f((0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.9505)
	y := f(0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2])
	z := f((0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.089)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// Any two utilities differ in pattern, hatch and letter; so they are told apart
// whatever the sight. Colors count as well where they are 20 apart in CIE Lab.
func TestStylesAreToldApart(t *testing.T) {
	all := Utilities()
	for _, kind := range []string{"full", "protanopia", "deuteranopia", "grey"} {
		close := 0
		for i, a := range all {
			for _, b := range all[:i] {
				s, o := SymbologyOf(a.Code, "D"), SymbologyOf(b.Code, "D")
				p, q := lab(seen(kind, linear(t, s.Color))), lab(seen(kind, linear(t, o.Color)))
				if math.Sqrt((p[0]-q[0])*(p[0]-q[0])+(p[1]-q[1])*(p[1]-q[1])+(p[2]-q[2])*(p[2]-q[2])) < 20 {
					close++
				}
				if reflect.DeepEqual(s.Ticks, o.Ticks) || s.Hatch == o.Hatch || s.Letter == o.Letter {
					t.Errorf("%s, %s and %s have the same pattern", kind, a.Code, b.Code)
				}
			}
		}
		t.Logf("%s: %d pairs of colours are close and rest on their patterns", kind, close)
		if kind == "full" && close > 0 {
			t.Errorf("%d pairs are close in full colour", close)
		}
		if kind == "grey" && close == 0 {
			t.Error("the greyscale simulation does nothing")
		}
	}
}

func TestLevelsAreToldApart(t *testing.T) {
	var seen [][]float64
	for _, level := range []string{"A", "B", "C", "D", "in our own words"} {
		dash := SymbologyOf("water", level).Dash
		for _, d := range seen {
			if reflect.DeepEqual(d, dash) {
				t.Errorf("level %s looks like another", level)
			}
		}
		seen = append(seen, dash)
	}
	if s := SymbologyOf("no such", "b"); s.Letter != "?" || s.Level != "B" {
		t.Errorf("%+v", s)
	}
}

// Ticks look the same from both ends of a line: which way it was drawn is not
// which way it flows.
func TestTicksHaveNoDirection(t *testing.T) {
	for _, u := range Utilities() {
		ticks, _, _ := pattern(u.Code)
		last := 0.0
		for _, tick := range ticks {
			last = max(last, tick.At)
		}
		for _, tick := range ticks {
			mirrored := Tick{last - tick.At, tick.Length, -tick.Lean, tick.Left, tick.Right}
			if mirrored.Lean == 0 {
				mirrored.Lean = 0 // not -0
			}
			if !slices.Contains(ticks, mirrored) {
				t.Errorf("%s: the tick %+v looks otherwise from the other end", u.Code, tick)
			}
		}
	}
}

// States differ from one another, from every utility's ticks and from a line in
// service by more than color; what is not understood looks like one that is there.
func TestStatesAreToldApart(t *testing.T) {
	looks := StateSymbologies()
	if len(looks) != 3 {
		t.Fatalf("%d looks", len(looks))
	}
	for i, a := range looks {
		if a.Word == "" || (len(a.Strokes) == 0) != (a.Every == 0) || len(a.Strokes) == 0 && !a.Hollow {
			t.Errorf("%s is not told apart: %+v", a.State, a)
		}
		for _, b := range looks[:i] {
			if reflect.DeepEqual(a.Strokes, b.Strokes) && a.Hollow == b.Hollow {
				t.Errorf("%s looks like %s", a.State, b.State)
			}
		}
		for _, u := range Utilities() {
			if ticks, _, _ := pattern(u.Code); len(ticks) > 0 && reflect.DeepEqual(ticks, a.Strokes) {
				t.Errorf("%s has the ticks of %s", a.State, u.Code)
			}
		}
	}
	for _, s := range []State{"", InService, NotRead, "gone for good"} {
		if l := StateSymbologyOf(s); l.Word != "" || len(l.Strokes) > 0 || l.Hollow {
			t.Errorf("%q: %+v", s, l)
		}
	}
}

// A stroke on both sides of the line, turned half round, is the same stroke.
func TestStrokesHaveNoDirection(t *testing.T) {
	for _, l := range StateSymbologies() {
		for _, s := range l.Strokes {
			if !s.Left || !s.Right || s.At != 0 || s.Length <= 0 || math.Abs(s.Lean) < 40 {
				t.Errorf("%s: %+v", l.State, s)
			}
		}
	}
}

// The hollow of a proposed line is seen: every casing stands off its color, by
// the contrast of WCAG 2.2 for things that are no text.
func TestHollowIsSeen(t *testing.T) {
	for _, u := range Utilities() {
		if c := contrast(t, u.Color, u.Casing); c < 3 {
			t.Errorf("%s: %.1f", u.Code, c)
		}
	}
}

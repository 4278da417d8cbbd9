package brief

import (
	"math"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/geodesic"
)

func TestScaleWords(t *testing.T) {
	for _, c := range []struct {
		n     float64
		units string
		want  string
	}{
		{240, "us", "1 in = 20 ft (1:240)"}, {1200, "us", "1 in = 100 ft (1:1200)"}, {250, "us", "1:250"}, {500, "metric", "1:500"},
	} {
		if got := scaleWords(c.n, c.units); got != c.want {
			t.Errorf("%g %s: %q", c.n, c.units, got)
		}
	}
}

// TestScaleIsOfTheGround: lengths on paper are those of the ellipsoid divided by
// the scale, in both directions, also where Web Mercator is twice too large.
func TestScaleIsOfTheGround(t *testing.T) {
	for _, lat := range []float64{0, 40, -40, 60} {
		v := newView(1, orb.Point{-105, lat}, 240, box{10, 20, 190, 200})
		b := v.ground(0)
		for _, ends := range [][2]orb.Point{
			{{b.Left(), lat}, {b.Right(), lat}}, {{-105, b.Bottom()}, {-105, b.Top()}}, {b.Min, b.Max},
		} {
			p, q := v.toPaper(ends[0]), v.toPaper(ends[1])
			got, want := math.Hypot(p[0]-q[0], p[1]-q[1]), geodesic.Distance(ends[0], ends[1])/240*1000
			if math.Abs(got/want-1) > 1e-4 {
				t.Errorf("latitude %g: %.4f mm on paper, %.4f by the scale", lat, got, want)
			}
		}
	}
}

// TestSheetsShowAll: every place of the outline is on a sheet, and a route takes
// no sheets where it does not run.
func TestSheetsShowAll(t *testing.T) {
	on := box{10, 20, 190, 200}
	p := func(e, n float64) orb.Point { return from(e, n) }
	route := orb.MultiPolygon{{{p(0, 0), p(400, 390), p(400, 400), p(0, 10), p(0, 0)}}}
	all := grid(route, 240, on, mostSheets)
	if full := math.Ceil(400/45.6) * math.Ceil(400/48.0); float64(len(all)) > full/2 || len(all) < 9 {
		t.Errorf("%d sheets", len(all))
	}
	for i := 0.0; i <= 400; i++ {
		at, seen := p(i, i*0.975+4), false
		for _, v := range all {
			seen = seen || v.shows(v.toPaper(at))
		}
		if !seen {
			t.Errorf("no sheet shows %g m along", i)
		}
	}
	for i, v := range all {
		if v.number != i+1 {
			t.Errorf("sheet %d has number %d", i+1, v.number)
		}
	}
}

func TestChosenScales(t *testing.T) {
	on := box{10, 20, 190, 200}
	for _, half := range []float64{5, 50, 500, 5000, 50000} {
		a, b := from(-half, -half), from(half, half)
		outline := orb.MultiPolygon{orb.Bound{Min: a, Max: b}.ToPolygon()}
		for _, units := range []string{"us", "metric"} {
			n := chooseScale(outline, units, on)
			if got := len(grid(outline, n, on, mostSheets)); got < 1 || got > fewSheets {
				t.Errorf("%g m %s: 1:%g takes %d sheets", half, units, n, got)
			}
			if fit := fitScale(outline.Bound(), units, on); fit < n || 2*half*1000/fit > on.W+0.5 {
				t.Errorf("%g m %s: overview 1:%g, sheets 1:%g", half, units, fit, n)
			}
		}
	}
}

// TestStylesInGray: color and casing are told apart by lightness alone, by the
// contrast ratio of WCAG 2.2 (3 is its least for graphics).
func TestStylesInGrey(t *testing.T) {
	light := func(color string) float64 {
		r, g, b := rgb(color)
		lin := func(v int) float64 {
			c := float64(v) / 255
			if c <= 0.04045 {
				return c / 12.92
			}
			return math.Pow((c+0.055)/1.055, 2.4)
		}
		return 0.2126*lin(r) + 0.7152*lin(g) + 0.0722*lin(b)
	}
	for _, u := range record.Utilities() {
		s := record.SymbologyOf(u.Code, "D")
		a, b := light(s.Color)+0.05, light(s.Casing)+0.05
		if ratio := max(a, b) / min(a, b); ratio < 3 {
			t.Errorf("%s: contrast %.1f", u.Code, ratio)
		}
	}
}

func TestHatchStaysInside(t *testing.T) {
	ring := circle(orb.Point{50, 50}, 20)
	hole := circle(orb.Point{50, 50}, 8)
	strokes := hatch([]orb.Ring{ring, hole}, 45, 2)
	if len(strokes) < 20 {
		t.Fatalf("%d strokes", len(strokes))
	}
	for _, s := range strokes {
		mid := orb.Point{(s[0][0] + s[1][0]) / 2, (s[0][1] + s[1][1]) / 2}
		if d := math.Hypot(mid[0]-50, mid[1]-50); d > 20 || d < 7.9 {
			t.Errorf("a stroke at %.1f mm from the middle", d)
		}
	}
	if hatch([]orb.Ring{{{0, 0}, {1e9, 0}, {1e9, 1e9}, {0, 0}}}, 45, 2) != nil {
		t.Error("a face larger than any page is hatched")
	}
}

func TestLabelsDoNotCover(t *testing.T) {
	p := newPDF(A4, "t", now)
	p.pdf.AddPage()
	r := newLabelPlacer(p, box{0, 0, 100, 100})
	for range 40 {
		r.label(p, orb.Point{50, 50}, "W 3′ 5″", lettering{size: 7})
	}
	var all []box
	for _, some := range r.taken {
		for _, b := range some {
			if !slices.Contains(all, b) {
				all = append(all, b)
			}
		}
	}
	if r.hidden == 0 || len(all) < 3 || len(all)+r.hidden != 40 {
		t.Errorf("%d written, %d left", len(all), r.hidden)
	}
	for i, a := range all {
		for _, b := range all[:i] {
			if a.X < b.X+b.W && b.X < a.X+a.W && a.Y < b.Y+b.H && b.Y < a.Y+a.H {
				t.Errorf("%v covers %v", a, b)
			}
		}
	}
}

func FuzzTidy(f *testing.F) {
	for _, s := range []string{"", "plain", "a\x00b\n\tc", "\u202eabc\u2066", "\xff\xfe", "e\u0301", "\U0001F6A7", hostile[:200]} {
		f.Add(s, 20)
	}
	f.Fuzz(func(t *testing.T, s string, most int) {
		most = max(1, min(most, 500))
		got := sanitize(s, most)
		if !utf8.ValidString(got) || utf8.RuneCountInString(got) > most+1 || strings.TrimSpace(got) != got {
			t.Errorf("%q of %q", got, s)
		}
		for _, r := range got {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
				t.Errorf("%q holds %U", got, r)
			}
		}
	})
}

// TestLegendIsNotCut: what the legend says has room on both papers.
func TestLegendIsNotCut(t *testing.T) {
	s, err := readPack(t.Context(), newPack(t, about(), states(t)...), now)
	if err != nil {
		t.Fatal(err)
	}
	s.routes = make([]centerline, 1)
	s.derived.Lines = append(s.derived.Lines, derive.Line{Utility: "gas", Basis: "readings"})
	all := s.legendEntries()
	if len(all) < 18 {
		t.Fatalf("%d entries: some are not looked at", len(all))
	}
	for _, size := range []string{Letter, A4} {
		p := newPDF(size, "", now)
		on := mapBox(p.size())
		for _, e := range all {
			if got := wrap(p, e.text, 6, false, legendBox(on).W/legendColumns-sampleLength-2.5, 1); len(got) != 1 || got[0] != e.text {
				t.Errorf("%s: %q", size, got)
			}
		}
	}
}

package derive

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// crossed lays line b square over line a and gives what their crossing says.
func crossed(t *testing.T, a, b map[string]any) Crossing {
	t.Helper()
	one, other := recordOf(t, "g", "gas", lineOf(a, at(-20, 0), at(20, 0))), recordOf(t, "w", "water", lineOf(b, at(0, -20), at(0, 20)))
	got := newCrossings(append(linesOf(one), linesOf(other)...), 15)
	if len(got) != 1 {
		t.Fatalf("%d crossings", len(got))
	}
	return got[0]
}

func pipe(depth, of, size string) map[string]any {
	return map[string]any{"depth": depth, "depth_of": of, "size": size}
}

// Which line is above, by hand from depth, reference and size. Gas 24 in round
// with its center at 40 in lies from 28 to 52 in: a 4-in water line with its top
// at 36 in runs through it, though 36 is less than 40.
func TestRelation(t *testing.T) {
	for name, c := range map[string]struct {
		gas, water map[string]any
		kind, says string
		clear      float64 // inches; 0 = not told
	}{
		"center over top, clash":         {pipe("40in", "centre", "24 in"), pipe("36in", "top", "4 in"), MayTouch, "they overlap; gas is met first", 0},
		"invert under top, inside":       {pipe("30in", "top", "4 in"), pipe("36in", "invert", "36 in"), MayTouch, "they overlap; water is met first", 0},
		"tops, clear":                    {pipe("24in", "top of pipe", "4 in"), pipe("41in", "top", "6 in"), Above, "gas is recorded above water", 13},
		"center and invert, clear":       {pipe("60in", "invert", "6 in"), pipe("30in", "center", "4 in"), Above, "water is recorded above gas", 0},
		"tops, size of the upper unsaid": {pipe("24in", "top", ""), pipe("41in", "top", ""), Above, "its size is not recorded, so they may touch", 0},
		"centers without sizes":          {pipe("24in", "center", ""), pipe("41in", "center", ""), NotComparable, "not comparable", 0},
		"references not stated":          {pipe("24in", "", "4 in"), pipe("41in", "", "4 in"), NotComparable, "not comparable", 0},
		"unlike references, no size":     {pipe("24in", "top", ""), pipe("41in", "center", ""), NotComparable, "not comparable", 0},
		"words nobody knows":             {pipe("24in", "ridge", "4 in"), pipe("41in", "top", "4 in"), NotComparable, "not comparable", 0},
		"equal":                          {pipe("24in", "top", "4 in"), pipe("24in", "top", "4 in"), MayTouch, "neither top is above the other", 0},
		"no depth":                       {map[string]any{"size": "4 in"}, pipe("24in", "top", "4 in"), DepthUnknown, "vertical relation unknown", 0},
	} {
		got := crossed(t, c.gas, c.water)
		if got.Kind != c.kind || !strings.Contains(got.Relation, c.says) || (got.Upper != "") != (c.kind == Above) {
			t.Errorf("%s: %q, %q, upper %q", name, got.Kind, got.Relation, got.Upper)
		}
		if (got.ClearM != nil) != (c.clear != 0) {
			t.Errorf("%s: clear %v", name, got.ClearM)
		} else if got.ClearM != nil {
			near(t, name, *got.ClearM/measure.Inch, c.clear, 1e-4)
		}
		if comparable := c.kind == Above || c.kind == MayTouch; (got.SeparationM != nil) != comparable {
			t.Errorf("%s: separation %v", name, got.SeparationM)
		}
	}
}

// Within its stated doubt no line is above another.
func TestRelationWithinItsDoubt(t *testing.T) {
	gas, water := pipe("24in", "top", "4 in"), pipe("30in", "top", "4 in")
	if c := crossed(t, gas, water); c.Kind != Above {
		t.Errorf("%+v", c)
	}
	gas["depth_accuracy"], water["depth_accuracy"] = "3 in", "4 in"
	if c := crossed(t, gas, water); c.Kind != MayTouch || c.Upper != "" || !strings.HasPrefix(c.Relation, "may touch") {
		t.Errorf("%+v", c)
	}
}

// TestNeverAboveWhatMayBeHigher places both lines anywhere within their stated
// doubts: where "above" is told the other's top is never the higher one, and
// the clear height never less than told.
func TestNeverAboveWhatMayBeHigher(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2026))
	parts := []string{Top, Center, Bottom, ""}
	one := func() (Depth, Line) {
		m := r.Float64() * 3
		d, l := Depth{M: &m, Of: parts[r.IntN(4)]}, Line{Utility: []string{"gas", "water"}[r.IntN(2)]}
		if r.IntN(2) == 0 {
			doubt := r.Float64()
			d.DoubtM = &doubt
		}
		if r.IntN(3) > 0 {
			half := r.Float64() / 2
			l.HalfWidthM = &half
		}
		return d, l
	}
	// A size that is not recorded may be any.
	placed := func(d Depth, l Line) (top, bottom float64) {
		half, m := r.Float64(), *d.M
		if l.HalfWidthM != nil {
			half = *l.HalfWidthM
		}
		if d.DoubtM != nil {
			m += (2*r.Float64() - 1) * *d.DoubtM
		}
		of := d.Of
		if of == "" {
			of = parts[r.IntN(3)]
		}
		top = m - map[string]float64{Top: 0, Center: half, Bottom: 2 * half}[of]
		return top, top + 2*half
	}
	told := 0
	for range 20_000 {
		var c Crossing
		var a, b Line
		c.Depths[0], a = one()
		c.Depths[1], b = one()
		a.ID, b.ID = "a", "b"
		c.relate(a, b)
		if c.Kind != Above {
			if c.Upper != "" || strings.Contains(c.Relation, "recorded above") {
				t.Fatalf("%q says %q", c.Kind, c.Relation)
			}
			continue
		}
		told++
		for range 20 {
			upper, bottom := placed(c.Depths[0], a)
			lower, lowerBottom := placed(c.Depths[1], b)
			if c.Upper == "b" {
				upper, bottom, lower = lower, lowerBottom, upper
			}
			if upper > lower || c.ClearM != nil && lower-bottom < *c.ClearM-1e-9 {
				t.Fatalf("%+v: the upper may lie at %v, the other at %v", c, upper, lower)
			}
		}
	}
	if told < 1000 {
		t.Fatalf("only %d of the pairs were told", told)
	}
}

// readingsLine has readings along a line that runs east, each with its own properties.
func readingsLine(t *testing.T, each ...map[string]any) Line {
	t.Helper()
	var all []geojson.Feature
	for _, p := range each {
		x, y := p["x"].(float64), 0.0
		if off, has := p["off"].(float64); has {
			y = off
		}
		all = append(all, reading("W", at(x, y), p))
	}
	return linesOf(recordOf(t, "w", "water", append([]geojson.Feature{lineOf(map[string]any{"line": "W"}, at(0, 0), at(100, 0))}, all...)...))[0]
}

func TestDepthsAreMixedNever(t *testing.T) {
	m := func(x, depth float64, more ...any) map[string]any {
		p := map[string]any{"x": x, "depth_m": depth}
		for i := 0; i < len(more); i += 2 {
			p[more[i].(string)] = more[i+1]
		}
		return p
	}
	for name, c := range map[string]struct {
		line Line
		want string  // basis
		m    float64 // 0 = unknown
		also float64
		mix  bool
	}{
		"like with like":             {readingsLine(t, m(10, 1), m(20, 2)), "between readings", 1.5, 0, false},
		"top and invert":             {readingsLine(t, m(10, 1, "depth_of", "top"), m(20, 2, "depth_of", "invert")), "unknown", 0, 0, false},
		"a signal and a stated top":  {readingsLine(t, m(10, 1, "current_ma", 5.0), m(20, 2, "depth_of", "top")), "unknown", 0, 0, false},
		"levels D and B":             {readingsLine(t, m(10, 1, "quality_level", "D"), m(20, 2, "quality_level", "B")), "between readings", 1.5, 0, true},
		"1985 and 2026":              {readingsLine(t, m(10, 1, "date", "1985-05-01"), m(20, 2, "date", "2026-05-01")), "between readings", 1.5, 0, true},
		"nine years":                 {readingsLine(t, m(10, 1, "date", "2017-05-02"), m(20, 2, "date", "2026-05-01")), "between readings", 1.5, 0, false},
		"a test hole":                {readingsLine(t, m(10, 1, "quality_level", "A"), m(20, 2, "quality_level", "A")), "unknown", 0, 0, false},
		"two here, the deeper first": {readingsLine(t, m(15, 1.5), m(15, 0.9)), "reading", 0.9, 1.5, false},
		"two here, the deeper last":  {readingsLine(t, m(15, 0.9), m(15, 1.5)), "reading", 0.9, 1.5, false},
		"8 m off the line":           {readingsLine(t, m(10, 1, "off", 8.0), m(20, 2, "off", 8.0)), "unknown", 0, 0, false},
		"one far off between":        {readingsLine(t, m(10, 1), m(14, 9, "off", 5.0), m(20, 2)), "between readings", 1.5, 0, false},
	} {
		d := c.line.depthAt(15, 15)
		if d.Basis != c.want || d.Mixed != c.mix || (d.M != nil) != (c.m != 0) || (d.AlsoM != nil) != (c.also != 0) {
			t.Errorf("%s: %+v", name, d)
			continue
		}
		if d.M != nil {
			near(t, name, *d.M, c.m, 1e-3)
		}
		if d.AlsoM != nil {
			near(t, name, *d.AlsoM, c.also, 1e-9)
		}
	}
}

// Depths of 3, 3, 9, 3 and 3 ft, 10 m apart: the third is a spike, though no
// slope is over 0.2; so are two depths that differ at one place. A line that
// falls and rises evenly has none.
func TestSpikes(t *testing.T) {
	at := func(feet ...float64) Line {
		var all []map[string]any
		for i, d := range feet {
			all = append(all, map[string]any{"x": float64(10 * i), "depth_m": d * measure.Foot})
		}
		return readingsLine(t, all...)
	}
	for name, c := range map[string]struct {
		line Line
		want int
	}{
		"spike":     {at(3, 3, 9, 3, 3), 1},
		"hole":      {at(9, 9, 3, 9, 9), 1},
		"even":      {at(3, 4, 5, 6, 5, 4), 0},
		"step":      {at(3, 3, 9, 9, 9), 0},
		"one place": {readingsLine(t, map[string]any{"x": 5.0, "depth_m": 1.0}, map[string]any{"x": 5.0, "depth_m": 1.8}), 1},
	} {
		n := 0
		for _, f := range disagreements(c.line, Limits{}, "") {
			if f.Kind == "depth jump" {
				n++
			}
		}
		if n != c.want {
			t.Errorf("%s: %d depth jumps, want %d", name, n, c.want)
		}
	}
}

// A pack written before depths said what they are measured to tells of no line
// that it is above another.
func TestOlderCrossingsAreToldAnew(t *testing.T) {
	overlays, area := knownSite(t)
	k := From(overlays, area, Options{})
	for i := range k.Crossings {
		c := &k.Crossings[i]
		c.Kind, c.Relation, c.ClearM = "", "gas is recorded above water", nil
		for n := range c.Depths {
			c.Depths[n].Of = ""
		}
	}
	p, err := k.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := Decode(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range back.Crossings {
		if c.Kind != NotComparable && c.Kind != DepthUnknown || c.Upper != "" || strings.Contains(c.Relation, "above") {
			t.Errorf("%+v", c)
		}
	}
}

// Readings of a line that is recorded already make a second one: it may be the same.
func TestFoundAgain(t *testing.T) {
	read := func(id, utility, text string) record.Overlay {
		o, err := record.Read([]byte(text), record.Meta{File: id + ".geojson", Utility: utility}, id)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	main := `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-140.5,40.5],[-140.499,40.5]]}}`
	reading := func(lat float64) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{"line":"run 1"},"geometry":{"type":"Point","coordinates":[-140.4995,%g]}}`, lat)
	}
	found := `{"type":"FeatureCollection","features":[` + reading(40.4999) + "," + reading(40.5001) + `]}`
	for utility, want := range map[string]bool{"water": true, "gas": false} {
		k := From([]record.Overlay{read("main", utility, main), read("found", "water", found)}, nil, Options{})
		if len(k.Crossings) != 1 || strings.Contains(k.Crossings[0].Relation, "may be the recorded line of the same utility itself") != want {
			t.Errorf("%s: %+v", utility, k.Crossings)
		}
	}
}

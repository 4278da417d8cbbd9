package derive

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// Lines in one trench are told of though they cross nowhere: on the same
// places, an inch beside, slightly askew; by hand, 40 m is 131 ft.
func TestBeside(t *testing.T) {
	straight := orb.LineString{at(0, 0), at(40, 0)}
	for name, c := range map[string]struct {
		a, b orb.LineString
		rule float64
		says string // "" = nothing
	}{
		"on the same places":    {straight, straight, 0, "run beside one another over 131 ft"},
		"turned round":          {straight, orb.LineString{at(40, 0), at(0, 0)}, 0, "over 131 ft"},
		"an inch beside":        {straight, orb.LineString{at(0, 0.0254), at(40, 0.0254)}, 0, "the least distance recorded is 1 in"},
		"0.9 m beside":          {straight, orb.LineString{at(-5, 0.9), at(60, 0.9)}, 0, "over 131 ft"},
		"1.1 m beside, no rule": {straight, orb.LineString{at(0, 1.1), at(40, 1.1)}, 0, ""},
		"1.1 m beside, a rule":  {straight, orb.LineString{at(0, 1.1), at(40, 1.1)}, 0.6, "over 131 ft"},
		"askew":                 {straight, orb.LineString{at(0, -2), at(40, 2)}, 0, "over 65.6 ft"},
		"square":                {straight, orb.LineString{at(20, -20), at(20, 20)}, 0, ""},
		"far":                   {straight, orb.LineString{at(0, 30), at(40, 30)}, 0, ""},
		"one after the other":   {straight, orb.LineString{at(40, 0), at(80, 0)}, 0, ""},
		"many short edges":      {straight, orb.LineString{at(0, 0.2), at(10, 0.3), at(20, 0.2), at(30, 0.3), at(40, 0.2)}, 0, "over 131 ft"},
	} {
		k := From([]record.Overlay{recordOf(t, "g", "gas", lineOf(nil, c.a...)), recordOf(t, "e", "electric", lineOf(nil, c.b...))}, square(100), Options{EachSide: c.rule})
		got := ""
		for _, b := range k.ParallelRuns {
			got += b.Text("gas", "electric", "us") + "\n"
		}
		if (c.says == "") != (got == "") || !strings.Contains(got, c.says) || strings.Count(got, "\n") > 1 {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// TestBesideAsData: a line that comes near, leaves and comes back has two
// stretches; by hand, 0 to 10 m and 30 to 40 m, half a meter beside.
func TestBesideAsData(t *testing.T) {
	away := orb.LineString{at(0, 0.5), at(10, 0.5), at(10, 8), at(30, 8), at(30, 0.5), at(40, 0.5)}
	overlays := []record.Overlay{recordOf(t, "g", "gas", lineOf(nil, at(0, 0), at(40, 0))), recordOf(t, "h", "gas", lineOf(nil, away...))}
	dig := func(west float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{at(west, 0.2), at(west+2, 0.2), at(west+2, 2), at(west, 2), at(west, 0.2)}}}
	}
	for name, c := range map[string]struct {
		area orb.MultiPolygon
		in   bool
	}{"the second line is in it": {dig(33), true}, "between the stretches": {dig(20), false}, "none": {nil, false}} {
		k := From(overlays, c.area, Options{})
		if len(k.ParallelRuns) != 1 || len(k.ParallelRuns[0].StationsM) != 2 || len(k.ParallelRuns[0].Path) != 2 || k.ParallelRuns[0].InArea != c.in {
			t.Fatalf("%s: %+v", name, k.ParallelRuns)
		}
		b := k.ParallelRuns[0]
		if f := k.Features(); !slices.ContainsFunc(f, func(f geojson.Feature) bool {
			return f.Properties["part"] == partBeside && f.Properties["number"] == 1 && len(f.Geometry.(orb.MultiLineString)) == 2 && f.Properties["in_area"] == c.in
		}) {
			t.Errorf("%s: not drawn: %+v", name, f)
		}
		for i, want := range [][2]float64{{0, 10}, {30, 40}} {
			near(t, "from", b.StationsM[i][0], want[0], 1e-3)
			near(t, "to", b.StationsM[i][1], want[1], 1e-3)
		}
		near(t, "length", b.LengthM, 20, 1e-3)
		near(t, "least", b.LeastM, 0.5, 1e-3)
		if b.Lines != [2]string{"g/1", "h/1"} || !strings.HasSuffix(b.Relation, "one line recorded twice") {
			t.Errorf("%+v", b)
		}
	}
}

// TestBesideLeast holds the least distance against that of places all along
// the stretch.
func TestBesideLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2026))
	found := 0
	for range 300 {
		a := orb.LineString{at(0, 0), at(20, 0)}
		x, y, turn := r.Float64()*20, r.Float64()*3-1.5, (r.Float64()-0.5)*math.Pi
		b := orb.LineString{at(x, y), at(x+20*math.Cos(turn), y+20*math.Sin(turn))}
		lines := append(linesOf(recordOf(t, "a", "gas", lineOf(nil, a...))), linesOf(recordOf(t, "b", "water", lineOf(nil, b...)))...)
		for _, s := range newEdgeIndex(lines).parallelRuns(make([]Zone, 2), Options{}) {
			found++
			least := math.Inf(1)
			for i := range 2001 {
				_, off := lines[1].Nearest(lines[0].At(s.StationsM[0][0] + (s.StationsM[0][1]-s.StationsM[0][0])*float64(i)/2000))
				least = min(least, off)
			}
			near(t, "least", s.LeastM, least, 0.006) // places are a centimeter apart
		}
	}
	if found < 50 {
		t.Errorf("only %d pairs", found)
	}
}

// TestKnownWithoutBeside: a pack of an earlier version does not tell of lines
// beside one another, which is not that there are none.
func TestKnownWithoutBeside(t *testing.T) {
	overlays, area := knownSite(t)
	p, err := From(overlays, area, Options{}).Encode()
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(p.Facts, &all); err != nil || string(all["beside"]) != "[]" {
		t.Fatal(err, string(all["beside"]))
	}
	delete(all, "beside")
	if p.Facts, err = json.Marshal(all); err != nil {
		t.Fatal(err)
	}
	if k, err := Decode(p); err != nil || k.ParallelRuns != nil {
		t.Errorf("%v %+v", err, k.ParallelRuns)
	}
}

// TestReadKnownRefusesBeside: a pack is an untrusted file.
func TestReadKnownRefusesBeside(t *testing.T) {
	p, err := From([]record.Overlay{recordOf(t, "g", "gas", lineOf(nil, at(0, 0), at(40, 0))), recordOf(t, "e", "electric", lineOf(nil, at(0, 0.5), at(40, 0.5)))}, nil, Options{}).Encode()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Decode(p); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{
		`"beside":[{"lines":["g/1","e/1"]`: `"beside":[{"lines":["g/1","x"]`, `"stations_m":[[`: `"stations_m":[[1,2],[`, `"path":[[[`: `"path":[[],[[`, `"path":[[[-`: `"path":[[[-9`,
	} {
		text := strings.Replace(string(p.Facts), from, to, 1)
		if _, err := Decode(Encoded{[]byte(text), p.Features}); text == string(p.Facts) || err == nil || !strings.Contains(err.Error(), "beside") {
			t.Errorf("%s: %v", to, err)
		}
	}
}

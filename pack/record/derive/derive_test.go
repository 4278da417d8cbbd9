package derive

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

func linesOf(o record.Overlay) []Line {
	lines, _ := makeLines(o, "")
	return lines
}

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

func TestReadingsMakeALine(t *testing.T) {
	o := recordOf(t, "w", "water",
		reading("W1", at(20, 0), map[string]any{"depth_m": 1.2, "order": 3.0}), reading("W1", at(0, 0), map[string]any{"depth_m": 1.0, "order": 1.0}),
		reading("W1", at(60, 0), map[string]any{"depth_m": 2.0, "order": 4.0}), reading("W1", at(10, 0), map[string]any{"depth_m": 1.1, "order": 2.0}))
	lines, findings := makeLines(o, "")
	if len(lines) != 1 || len(findings) != 1 || !strings.Contains(findings[0].Detail, "their numbers") {
		t.Fatalf("%+v %+v", lines, findings)
	}
	l := lines[0]
	near(t, "length", l.LengthM, 60, 1e-3)
	for i, want := range []float64{0, 10, 20, 60} {
		near(t, "station", l.Stations[i].AtM, want, 1e-3)
	}
	for _, c := range []struct {
		station float64
		basis   string
		m       float64
	}{{0, "reading", 1}, {5, "between readings", 1.05}, {20, "reading", 1.2}, {40, "unknown", 0}, {60, "reading", 2}, {61, "unknown", 0}, {-1, "unknown", 0}} {
		d := l.depthAt(c.station, 15)
		if d.Basis != c.basis || (d.M == nil) != (c.basis == "unknown") {
			t.Errorf("at %v: %+v", c.station, d)
		} else if d.M != nil {
			near(t, "depth", *d.M, c.m, 1e-4)
		}
	}
	if d := l.depthAt(40, 41); d.Basis != "between readings" || math.Abs(d.GapM-40) > 1e-3 {
		t.Errorf("with a wider gap: %+v", d)
	}
	at, off := l.Nearest(at(30, 2))
	near(t, "nearest station", at, 30, 1e-3)
	near(t, "offset", off, 2, 1e-3)
}

func TestOrderByTime(t *testing.T) {
	o := recordOf(t, "w", "water", reading("a", at(10, 0), map[string]any{"date": "2026-11-18T15:13:00Z"}), reading("a", at(0, 0), map[string]any{"date": "2026-11-18T15:10:00Z"}))
	lines, findings := makeLines(o, "")
	if !strings.Contains(findings[0].Detail, "their times") || lines[0].Path[0] != at(0, 0) {
		t.Errorf("%+v %+v", findings, lines)
	}
	o = recordOf(t, "w", "water", reading("a", at(10, 0), map[string]any{"date": "11/18/26 9:00"}), reading("a", at(0, 0), map[string]any{"date": "11/18/26 10:00"}))
	if _, findings = makeLines(o, ""); !strings.Contains(findings[0].Detail, "the file") {
		t.Errorf("%+v", findings)
	}
}

func TestReadingsAlongARecordedLine(t *testing.T) {
	o := recordOf(t, "w", "water", lineOf(map[string]any{"line": "W", "size": "6 in"}, at(0, 0), at(100, 0)),
		reading("W", at(70, 2), depth(1)), reading("W", at(20, 0), depth(1)), reading("W", at(20, 50), depth(1)))
	lines, findings := makeLines(o, "")
	if len(findings) != 1 || !strings.Contains(findings[0].Detail, "1 reading (feature) names line \"W\" but is more than 32.8 ft") {
		t.Errorf("%+v", findings)
	}
	l := lines[0]
	if len(l.Stations) != 2 || l.HalfWidthM == nil {
		t.Fatalf("%+v", l)
	}
	near(t, "half of 6 in", *l.HalfWidthM, 3*measure.Inch, 1e-9)
	near(t, "second station", l.Stations[1].AtM, 70, 1e-2)
	near(t, "its offset", l.Stations[1].OffsetM, 2, 1e-3)
}

// Total widths in inches as the rules give them: D + 2T. 12-in pipe with 18 in
// each side 48 in (CGA Best Practices 5-19; Neb. Rev. Stat. 76-2323), 4-in
// with 24 in 52 in, 12-in with 24 in 60 in (Cal. Gov. Code 4216), unknown size
// with 24 in 48 in (Va. Code 56-265.24), 3/4-in cable with 18 in 36.75 in.
// A zone is as wide on the ground at any latitude.
func TestZoneWidths(t *testing.T) {
	for _, c := range []struct {
		size        string
		each, total float64
	}{{"12 in", 18, 48}, {"4 in", 24, 52}, {"12 in", 24, 60}, {"", 24, 48}, {"0.75 in", 18, 36.75}, {"300 mm", 500 / 25.4, 1300 / 25.4}} {
		for _, lat := range []float64{25, 40, 49} {
			for _, turn := range []float64{0, 0.5, 1.3} {
				f := geodesic.At(orb.Point{-105, lat})
				sin, cos := math.Sincos(turn)
				o := recordOf(t, "w", "water", lineOf(map[string]any{"size": c.size}, f.Degrees(orb.Point{0, 0}), f.Degrees(orb.Point{30 * cos, 30 * sin})))
				z := newZone(linesOf(o)[0], c.each*measure.Inch, false)
				s := newAreaIndex(z.Shape)
				// Walk square to the middle of the line, both ways, by distance on the ellipsoid.
				total := 0.0
				for _, side := range []float64{1, -1} {
					lo, hi := 0.0, 5.0
					for range 50 {
						mid := (lo + hi) / 2
						if s.contains(f.Degrees(orb.Point{15*cos - side*mid*sin, 15*sin + side*mid*cos})) {
							lo = mid
						} else {
							hi = mid
						}
					}
					total += geodesic.Distance(f.Degrees(orb.Point{15 * cos, 15 * sin}), f.Degrees(orb.Point{15*cos - side*lo*sin, 15*sin + side*lo*cos}))
				}
				near(t, fmt.Sprintf("%q + %v in at %v", c.size, c.each, lat), total/measure.Inch, c.total, 0.1)
				if z.SizeKnown != (c.size != "") {
					t.Error("known size")
				}
			}
		}
	}
}

// Whatever way a line takes, its zone holds what lies 0.1 % within the reach
// and nothing that lies 3 % beyond it, measured on the ellipsoid.
func TestZoneFollowsAnyLine(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 2026))
	for shape := range 60 {
		var path orb.LineString
		x, y, turn, bends := 0.0, 0.0, r.Float64()*6, 0.2+3*r.Float64()*float64(shape%2)
		for range 2 + r.IntN(30) {
			path = append(path, at(x, y))
			turn += (r.Float64() - 0.5) * bends
			step := 10 * r.Float64() * r.Float64()
			x, y = x+step*math.Cos(turn), y+step*math.Sin(turn)
		}
		reach := 0.3 + r.Float64()
		s := newAreaIndex(around(path, reach))
		for range 400 {
			on := path[r.IntN(len(path))]
			f := geodesic.At(on)
			p := f.Degrees(orb.Point{(r.Float64() - 0.5) * 5 * reach, (r.Float64() - 0.5) * 5 * reach})
			d := math.Inf(1)
			for i := 1; i < len(path); i++ {
				d = min(d, toEdge(p, path[i-1], path[i]))
			}
			if in := s.contains(p); in && d > reach*1.03 || !in && d < reach*0.999 {
				t.Fatalf("shape %d: %v m from the line, reach %v m, in the zone: %v", shape, d, reach, in)
			}
		}
	}
}

func TestZoneJoinsAndUncertainty(t *testing.T) {
	two := measure.Distance(2 * measure.Foot)
	o, err := record.New([]geojson.Feature{lineOf(nil, at(0, 0), at(20, 0), at(20, 20), at(40, 20))}, record.Meta{File: "f", Utility: "gas", Accuracy: &two}, "g")
	if err != nil {
		t.Fatal(err)
	}
	z := newZone(linesOf(o)[0], 1, true)
	if len(z.Shape) != 1 || len(z.Shape[0]) != 1 || len(z.Uncertain) != 1 {
		t.Fatalf("%d and %d parts", len(z.Shape), len(z.Uncertain))
	}
	in, out := newAreaIndex(z.Shape), newAreaIndex(z.Uncertain)
	if p := at(10, 1.3); in.contains(p) || !out.contains(p) {
		t.Error("the uncertainty is not shown apart")
	}
	if z := newZone(linesOf(o)[0], 1, false); z.Uncertain != nil {
		t.Error("uncertainty that nobody asked for")
	}
}

func TestCrossings(t *testing.T) {
	water := recordOf(t, "w", "water", lineOf(map[string]any{"depth_m": 1.2, "depth_of": "top"}, at(0, 0), at(100, 0)), lineOf(nil, at(50, 0), at(50, 30)))
	gas := recordOf(t, "g", "gas", lineOf(map[string]any{"depth_m": 0.9, "depth_of": "top", "size": "4 in"}, at(20, -10), at(20, 10)), lineOf(nil, at(60, -10), at(60, 0), at(60, 10)), lineOf(nil, at(0, 50), at(100, 50)))
	lines := append(linesOf(water), linesOf(gas)...)
	got := newCrossings(lines, 15)
	if len(got) != 2 { // the tee of the water is none, the corner on the line is one
		t.Fatalf("%d crossings: %+v", len(got), got)
	}
	c := got[0]
	near(t, "separation", *c.SeparationM, 0.3, 1e-9)
	near(t, "station on the water", c.StationsM[0], 20, 1e-2)
	if c.Upper != "g/1" || c.Relation != "gas is recorded above water" {
		t.Errorf("%+v", c)
	}
	if c := got[1]; c.SeparationM != nil || c.Relation != "vertical relation unknown" || c.Upper != "" {
		t.Errorf("%+v", c)
	}
}

// The tree finds what trying every pair of edges finds.
func TestCrossingsAgainstEveryPair(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2026))
	for range 20 {
		var lines []Line
		for i := range 40 {
			o := recordOf(t, fmt.Sprint(i), "gas", lineOf(nil, at(r.Float64()*100, r.Float64()*100), at(r.Float64()*100, r.Float64()*100), at(r.Float64()*100, r.Float64()*100)))
			lines = append(lines, linesOf(o)...)
		}
		want := 0
		for i, a := range lines {
			for _, b := range lines[:i] {
				for e := 1; e < len(a.Path); e++ {
					for f := 1; f < len(b.Path); f++ {
						if _, _, ok := intersection(a.Path[e-1], a.Path[e], b.Path[f-1], b.Path[f]); ok {
							want++
						}
					}
				}
			}
		}
		if got := len(newCrossings(lines, 15)); got != want || want == 0 {
			t.Fatalf("%d crossings, want %d", got, want)
		}
	}
}

func square(half float64) orb.MultiPolygon {
	return orb.MultiPolygon{{{at(-half, -half), at(half, -half), at(half, half), at(-half, half), at(-half, -half)}}}
}

func TestEntries(t *testing.T) {
	o := recordOf(t, "w", "water",
		lineOf(nil, at(-50, 0), at(50, 0)), lineOf(nil, at(-50, 10.5), at(50, 10.5)), lineOf(map[string]any{"accuracy_m": 2.0}, at(-50, 12), at(50, 12)),
		lineOf(nil, at(-50, 30), at(50, 30)), lineOf(nil, at(-5, 0), at(5, 0)), lineOf(nil, at(-50, 11.5), at(50, 11.5)))
	k := From([]record.Overlay{o}, square(10), Options{EachSide: 0.6096})
	want := map[string]string{"w/1": Enters, "w/2": ZoneReaches, "w/3": UncertaintyReaches, "w/5": Enters}
	if len(k.Entries) != len(want) {
		t.Fatalf("%+v", k.Entries)
	}
	for _, e := range k.Entries {
		if want[e.Line] != e.Kind {
			t.Errorf("%s %s", e.Line, e.Kind)
		}
	}
	near(t, "length inside", k.Entries[0].LengthM, 20, 1e-2)
	near(t, "station of entry", k.Entries[0].Inside[0][0], 40, 1e-2)
	near(t, "distance", k.Entries[1].NearestM, 0.5, 1e-3)
	near(t, "length of the line within", k.Entries[3].LengthM, 10, 1e-2)
}

func TestDisagreements(t *testing.T) {
	o := recordOf(t, "w", "water",
		reading("W", at(0, 0), map[string]any{"depth_m": 1.0, "current_ma": 12.0}), reading("W", at(10, 0), map[string]any{"depth_m": 1.1, "current_ma": 11.5}),
		reading("W", at(12, 0), map[string]any{"depth_m": 1.8, "current_ma": 7.0}), reading("W", at(14, 9), depth(1.8)), reading("W", at(16, 0), depth(1.8)),
		reading("W", at(16.02, 0), depth(1.8)))
	k := From([]record.Overlay{o}, nil, Options{})
	kinds := map[string]int{}
	for _, f := range k.Findings {
		kinds[f.Kind]++
	}
	for _, kind := range []string{"depth jump", "current drop", "off line", "duplicate"} {
		if kinds[kind] != 1 {
			t.Errorf("%s: %d; all %+v", kind, kinds[kind], k.Findings)
		}
	}
}

func TestStatistics(t *testing.T) {
	five := measure.Distance(5 * measure.Foot)
	a, err := record.New([]geojson.Feature{reading("a", at(0, 0), depth(1)), reading("a", at(10, 0), map[string]any{"depth_m": 2.0, "accuracy_m": 3.0})}, record.Meta{File: "f", Utility: "gas", Recorded: "1998", Accuracy: &five, QualityLevel: "D"}, "g")
	if err != nil {
		t.Fatal(err)
	}
	b := recordOf(t, "h", "gas", lineOf(nil, at(0, 5), at(30, 5)))
	s := From([]record.Overlay{a, b}, nil, Options{}).Statistics
	if len(s) != 1 || s[0].Readings != 2 || s[0].Lines != 2 || s[0].Oldest != "1998" || s[0].Undated != 1 || s[0].NoAccuracy != 1 || s[0].Levels["D"] != 2 || s[0].Levels[""] != 1 {
		t.Fatalf("%+v", s)
	}
	near(t, "length", s[0].LengthM, 40, 1e-3)
	near(t, "deepest", *s[0].DeepestM, 2, 0)
	near(t, "worst accuracy", *s[0].WorstAccuracyM, 3, 0)
}

func TestKnownAsJSON(t *testing.T) {
	o := recordOf(t, "w", "water", lineOf(nil, at(-50, 0), at(50, 0)))
	text, err := json.Marshal(From([]record.Overlay{o}, square(10), Options{EachSide: 0.6}))
	if err != nil || strings.Contains(string(text), `"findings":null`) || !strings.Contains(string(text), `"shape":[[[[`) {
		t.Errorf("%v %s", err, text)
	}
	empty, err := json.Marshal(From(nil, nil, Options{}))
	if err != nil || strings.Contains(string(empty), "null") {
		t.Errorf("%v %s", err, empty)
	}
}

// many makes n edges in lines of 10, as dense as streets.
func many(n int) []Line {
	r := rand.New(rand.NewPCG(7, 2026))
	side := 60 * math.Sqrt(float64(n))
	var lines []Line
	for i := range n / 10 {
		x, y, turn := r.Float64()*side, r.Float64()*side, r.Float64()*6
		var path orb.LineString
		for range 11 {
			path = append(path, at(x, y))
			turn += r.Float64()*0.2 - 0.1
			x, y = x+20*math.Cos(turn), y+20*math.Sin(turn)
		}
		o := record.Overlay{ID: fmt.Sprint(i)}
		lines = append(lines, newLine(o, nil, "", "record", path, 0))
	}
	return lines
}

func BenchmarkCrossings(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		lines := many(n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			found := 0
			for b.Loop() {
				found = len(newCrossings(lines, 15))
			}
			b.ReportMetric(float64(found), "crossings")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/edge")
		})
	}
}

// BenchmarkCompute: 100,000 readings on 2,000 lines.
func BenchmarkCompute(b *testing.B) {
	r := rand.New(rand.NewPCG(9, 2026))
	var features []geojson.Feature
	for i := range 2_000 {
		x, y, turn := r.Float64()*8000, r.Float64()*8000, r.Float64()*6
		for j := range 50 {
			features = append(features, reading(fmt.Sprint(i), at(x, y), map[string]any{"depth_m": 1 + r.Float64()/10, "order": float64(j)}))
			turn += r.Float64()*0.2 - 0.1
			x, y = x+5*math.Cos(turn), y+5*math.Sin(turn)
		}
	}
	o, err := record.New(features, record.Meta{File: "f", Utility: "water"}, "w")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		From([]record.Overlay{o}, square(4000), Options{EachSide: 0.6})
	}
}

func newCrossings(lines []Line, gap float64) []Crossing {
	found, _ := newEdgeIndex(lines).crossings(gap)
	return found
}

package derive

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/pack/record"
)

// scribble is a line whose points lie anywhere within 100 m, as readings out of
// order do.
func scribble(n int, seed uint64) orb.LineString {
	r := rand.New(rand.NewPCG(seed, 1))
	line := make(orb.LineString, n)
	for i := range line {
		line[i] = at(r.Float64()*100, r.Float64()*100)
	}
	return line
}

func TestTangled(t *testing.T) {
	straight := orb.LineString{}
	for i := range 3_000 {
		straight = append(straight, at(float64(i), float64(i%2)/4))
	}
	for _, c := range []struct {
		name string
		path orb.LineString
		want bool
	}{
		{"one point", scribble(1, 1), false},
		{"few points", scribble(20, 1), false},
		{"many out of order", scribble(3_000, 1), true},
		{"many in order", straight, false},
	} {
		if got := tangled(c.path); got != c.want {
			t.Errorf("%s: tangled = %v, want %v", c.name, got, c.want)
		}
	}
}

// TestTangledZone holds that the zone of a tangle leaves out nothing that the zone
// along the line would hold, and that it is made in no time.
func TestTangledZone(t *testing.T) {
	path := scribble(3_000, 2)
	o := recordOf(t, "gas", "gas", lineOf(map[string]any{"name": "GR-1"}, path...))
	k := From([]record.Overlay{o}, square(100), Options{EachSide: 0.6})
	for i := range len(path) - 1 {
		for _, around := range [][2]float64{{0, 0}, {4e-6, 0}, {-4e-6, 0}, {0, 4e-6}, {0, -4e-6}} { // 0.44 m
			for _, part := range []float64{0, 0.5} {
				p := orb.Point{path[i][0] + part*(path[i+1][0]-path[i][0]) + around[0], path[i][1] + part*(path[i+1][1]-path[i][1]) + around[1]}
				if !planar.MultiPolygonContains(k.Zones[0].Shape, p) {
					t.Fatalf("the zone leaves out %v beside edge %d", p, i)
				}
			}
		}
	}
	var said []string
	for _, f := range k.Findings {
		if f.Kind == "tangle" {
			said = append(said, f.Text())
		}
	}
	if len(said) != 1 || !strings.Contains(said[0], "in order?") {
		t.Errorf("findings: %q", said)
	}
}

func TestTooManyCrossings(t *testing.T) {
	var one, other []orb.Point
	for i := range 300 {
		one = append(one, at(float64(i%2)*100, float64(i)/3))
		other = append(other, at(float64(i)/3, float64(i%2)*100))
	}
	grid := []record.Overlay{recordOf(t, "gas", "gas", lineOf(nil, one...)), recordOf(t, "water", "water", lineOf(nil, append(other, at(0, 50))...))}
	k := From(grid, square(100), Options{})
	last := k.Findings[len(k.Findings)-1]
	if last.Kind != "tangle" || last.Severity != record.Fault || last.Where != "water" || !strings.Contains(last.Detail, "NOT worked out") {
		t.Errorf("the last finding is %+v", last)
	}
	if len(k.Crossings) < mostCrossings || k.ParallelRuns == nil {
		t.Errorf("%d crossings, runs %v", len(k.Crossings), k.ParallelRuns)
	}
}

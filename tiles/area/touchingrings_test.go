package area

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
)

// TestTouching: rings that touch themselves are taken apart, rings that cross
// themselves are refused. Every ring is tried from each of its positions and
// both ways round.
func TestTouching(t *testing.T) {
	box := orb.Ring{{0, 0}, {8, 0}, {8, 8}, {0, 8}, {0, 0}}
	tests := []struct {
		name            string
		polygon         orb.Polygon
		polygons, rings int // 0: refused
	}{
		{"two beside one another", orb.Polygon{{{0, 0}, {4, 0}, {2, 2}, {4, 4}, {0, 4}, {2, 2}, {0, 0}}}, 2, 2},
		{"the same, crossing at the position", orb.Polygon{{{0, 0}, {4, 0}, {2, 2}, {0, 4}, {4, 4}, {2, 2}, {0, 0}}}, 0, 0},
		{"three at one position", orb.Polygon{{{0, 0}, {2, -1}, {2, 1}, {0, 0}, {1, 2}, {-1, 2}, {0, 0}, {-2, 1}, {-2, -1}, {0, 0}}}, 3, 3},
		{"a hole drawn with the outline", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {0, 8}, {0, 0}, {3, 5}, {5, 3}, {0, 0}}}, 1, 2},
		{"twice round", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {0, 8}, {0, 0}, {5, 3}, {3, 5}, {0, 0}}}, 0, 0},
		{"a position on an edge", orb.Polygon{{{0, 0}, {8, 0}, {8, 2}, {4, 0}, {0, 2}, {0, 0}}}, 2, 2},
		{"a position on an edge, from inside", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {5, 8}, {4, 0}, {3, 8}, {0, 8}, {0, 0}}}, 2, 2},
		{"a notch that only comes near", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {5, 8}, {4, 1e-12}, {3, 8}, {0, 8}, {0, 0}}}, 1, 1},
		{"a notch a little too deep", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {5, 8}, {4, -1e-12}, {3, 8}, {0, 8}, {0, 0}}}, 0, 0},
		{"a notch through a position", orb.Polygon{{{0, 0}, {4, 0}, {8, 0}, {8, 8}, {5, 8}, {4, 0}, {4, -1}, {4, 0}, {3, 8}, {0, 8}, {0, 0}}}, 0, 0},
		{"it runs along itself", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {6, 8}, {6, 0}, {4, 0}, {4, 8}, {0, 8}, {0, 0}}}, 0, 0},
		{"a bridge to a hole", orb.Polygon{{{0, 0}, {8, 0}, {8, 8}, {0, 8}, {0, 0}, {2, 2}, {2, 6}, {6, 2}, {2, 2}, {0, 0}}}, 0, 0},
		{"holes that touch, in one ring", orb.Polygon{box, {{1, 1}, {3, 1}, {2, 2}, {3, 3}, {1, 3}, {2, 2}, {1, 1}}}, 1, 3},
		{"an island in a hole, in one ring", orb.Polygon{box, {{1, 1}, {7, 1}, {7, 7}, {1, 7}, {1, 1}, {3, 5}, {5, 3}, {1, 1}}}, 2, 3},
		{"the outline touches, and the hole of one part", orb.Polygon{{{0, 0}, {8, 0}, {4, 4}, {8, 8}, {0, 8}, {4, 4}, {0, 0}}, {{3, 1}, {5, 1}, {4, 2}, {3, 1}}}, 2, 3},
		{"the outline touches, and a hole is outside", orb.Polygon{{{0, 0}, {8, 0}, {4, 4}, {8, 8}, {0, 8}, {4, 4}, {0, 0}}, {{0, 3}, {1, 4}, {0, 5}, {0, 3}}}, 0, 0},
		{"a hole in both parts", orb.Polygon{{{0, 0}, {8, 0}, {4, 4}, {8, 8}, {0, 8}, {4, 4}, {0, 0}}, {{3, 1}, {5, 1}, {5, 7}, {3, 7}, {3, 1}}}, 0, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			for _, polygon := range turned(test.polygon) {
				a, err := Polygons(one(polygon))
				if test.polygons == 0 {
					var bad *fault.Fault
					if !errors.As(err, &bad) {
						t.Fatalf("%v: let through as %v, %v", polygon, a.Polygons, err)
					}
					continue
				}
				if err != nil {
					t.Fatalf("%v: %v", polygon, err)
				}
				rings := 0
				for _, p := range a.Polygons {
					rings += len(p)
				}
				if len(a.Polygons) != test.polygons || rings != test.rings {
					t.Fatalf("%v: %d polygons, %d rings, want %d and %d: %v", polygon, len(a.Polygons), rings, test.polygons, test.rings, a.Polygons)
				}
				if _, err := Polygons(one(a.Polygons)); err != nil {
					t.Fatalf("%v: the parts are not valid: %v", polygon, err)
				}
				same(t, Area{Polygons: orb.MultiPolygon{polygon}}, a)
			}
		})
	}
}

// turned gives a polygon with its rings begun at each position and both ways.
func turned(polygon orb.Polygon) (all []orb.Polygon) {
	for i := range polygon {
		for from := range len(polygon[i]) - 1 {
			ring := slices.Concat(polygon[i][from:], polygon[i][1:from+1])
			one := slices.Clone(polygon)
			one[i] = ring
			other := slices.Clone(polygon)
			other[i] = slices.Clone(ring)
			slices.Reverse(other[i])
			all = append(all, one, other)
		}
	}
	return all
}

// same holds the parts against what they were made from: its cover, and the
// area by their rings.
func same(t *testing.T, before, after Area) {
	t.Helper()
	for _, zoom := range []int{5, 9} {
		if b, a := cover(before, zoom, 0), cover(after, zoom, 0); !slices.Equal(b.Spans(), a.Spans()) {
			t.Fatalf("zoom %d: the parts cover %d tiles, before %d: %v", zoom, a.Count(), b.Count(), before.Polygons)
		}
	}
	if b, a := evenOdd(before.Polygons[0]), evenOdd(after.Polygons...); math.Abs(b-a) > 1e-9*b {
		t.Fatalf("the parts have %v square degrees, before %v: %v", a, b, before.Polygons)
	}
}

// evenOdd is the area in square degrees by counting fine cells' middle lines:
// the lengths inside of many parallels, even-odd.
func evenOdd(polygons ...orb.Polygon) (sum float64) {
	const lines = 4001
	for i := range lines {
		y := -2 + 12*(float64(i)+0.5)/lines
		var x []float64
		for _, polygon := range polygons {
			for _, ring := range polygon {
				for j := 1; j < len(ring); j++ {
					if p, q := ring[j-1], ring[j]; (p[1] <= y) != (q[1] <= y) {
						x = append(x, p[0]+(q[0]-p[0])*(y-p[1])/(q[1]-p[1]))
					}
				}
			}
		}
		slices.Sort(x)
		for j := 1; j < len(x); j += 2 {
			sum += x[j] - x[j-1]
		}
	}
	return sum * 12 / lines
}

// TestTouchingAtRandom joins a star and its hole, or two stars, at one position
// into one ring.
func TestTouchingAtRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 2026))
	for shape := range 500 {
		// Whole numbers, so that the shared position is hit exactly.
		v := orb.Point{float64(r.IntN(8)), float64(r.IntN(8))}
		fan := func(from, to, size float64, corners int) (ring orb.Ring) {
			for i := range corners {
				sin, cos := math.Sincos(from + (to-from)*(float64(i)+0.1+0.8*r.Float64())/float64(corners))
				d := size * (0.3 + 0.7*r.Float64())
				ring = append(ring, orb.Point{v[0] + d*cos, v[1] + d*sin})
			}
			return append(append(orb.Ring{v}, ring...), v)
		}
		first := fan(0.1, 3, 2, 2+r.IntN(10))
		second := fan(3.1, 6.2, 2, 2+r.IntN(10))
		polygon := orb.Polygon{slices.Concat(first, second[1:])}
		a, err := Polygons(one(polygon))
		if err != nil || len(a.Polygons) != 2 {
			t.Fatalf("shape %d: %d polygons, %v", shape, len(a.Polygons), err)
		}
		same(t, Area{Polygons: orb.MultiPolygon{polygon}}, a)
		slices.Reverse(second) // now the ring goes through itself
		if _, err := Polygons(one(orb.Polygon{slices.Concat(first, second[1:])})); err == nil {
			t.Fatalf("shape %d: a ring that crosses itself was let through", shape)
		}
	}
}

func TestTurn(t *testing.T) {
	tests := []struct {
		name    string
		a, b, p orb.Point
		want    int
	}{
		{"left", orb.Point{0, 0}, orb.Point{1, 0}, orb.Point{0, 1}, 1},
		{"right", orb.Point{0, 0}, orb.Point{1, 0}, orb.Point{0, -1}, -1},
		{"on the line", orb.Point{0, 0}, orb.Point{1, 3}, orb.Point{2, 6}, 0},
		{"on the line, where products round", orb.Point{0.1, 0.1}, orb.Point{0.3, 0.3}, orb.Point{0.7, 0.7}, 0},
		{"the least place beside it", orb.Point{0.1, 0.1}, orb.Point{0.3, 0.3}, orb.Point{0.7, math.Nextafter(0.7, 1)}, 1},
		{"one bit below the diagonal", orb.Point{math.Nextafter(0.5, 1), 0.5}, orb.Point{12, 12}, orb.Point{24, 24}, -1},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := turn(test.a, test.b, test.p); got != test.want {
				t.Errorf("turn %d, want %d", got, test.want)
			}
			if got := turn(test.b, test.a, test.p); got != -test.want {
				t.Errorf("the other way %d, want %d", got, -test.want)
			}
		})
	}
}

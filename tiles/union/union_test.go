package union

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

func square(x, y, side float64) orb.Polygon {
	return orb.Polygon{{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}}
}

// Areas and numbers of pieces are counted by hand.
func TestOf(t *testing.T) {
	ring := orb.MultiPolygon{square(0, 0, 1), square(1, 0, 1), square(2, 0, 1), square(0, 1, 1), square(2, 1, 1), square(0, 2, 1), square(1, 2, 1), square(2, 2, 1)}
	for name, c := range map[string]struct {
		groups []orb.MultiPolygon
		area   float64
		pieces int
		holes  int
	}{
		"nothing":        {nil, 0, 0, 0},
		"empty groups":   {[]orb.MultiPolygon{{}, nil}, 0, 0, 0},
		"one":            {[]orb.MultiPolygon{{square(0, 0, 2)}}, 4, 1, 0},
		"overlapping":    {[]orb.MultiPolygon{{square(0, 0, 2), square(1, 0, 2)}}, 6, 1, 0},
		"apart":          {[]orb.MultiPolygon{{square(0, 0, 1)}, {square(5, 5, 1)}}, 2, 2, 0},
		"one in another": {[]orb.MultiPolygon{{square(0, 0, 4)}, {square(1, 1, 1)}}, 16, 1, 0},
		"round a hole":   {[]orb.MultiPolygon{ring}, 8, 1, 1},
		"the hole too":   {[]orb.MultiPolygon{{square(1, 1, 1)}, ring}, 9, 1, 0},
	} {
		got, err := Of(c.groups...)
		holes := 0
		for _, p := range got {
			holes += len(p) - 1
			if p[0].Orientation() != orb.CCW {
				t.Errorf("%s: an outer ring runs clockwise", name)
			}
		}
		if err != nil || math.Abs(planar.Area(got)-c.area) > 1e-9 || len(got) != c.pieces || holes != c.holes {
			t.Errorf("%s: area %g in %d pieces with %d holes, %v; want %g, %d, %d", name, planar.Area(got), len(got), holes, err, c.area, c.pieces, c.holes)
		}
	}
}

func TestHull(t *testing.T) {
	got := Hull([]orb.Point{{0, 0}, {4, 0}, {1, 1}, {4, 4}, {0, 4}, {2, 3}})
	if len(got) != 1 || len(got[0][0]) != 5 || planar.Area(got) != 16 {
		t.Errorf("%v", got)
	}
}

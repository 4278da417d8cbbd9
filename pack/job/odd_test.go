package job

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

func TestLookAt(t *testing.T) {
	circle := func(lat, lon float64, radius string) Shape {
		return Shape{Kind: "circle", Center: &orb.Point{lon, lat}, Radius: radius}
	}
	crossed := Shape{Kind: "polygon", Rings: orb.Polygon{{{-105, 40}, {-104.99, 40.01}, {-104.99, 40}, {-105, 40.01}, {-105, 40}}}}
	for name, c := range map[string]struct {
		shapes []Shape
		units  string
		others []orb.Bound
		says   string // "" = nothing is odd
		wrong  bool
	}{
		"plain":            {[]Shape{circle(40, -105, "80ft"), circle(40.01, -105, "80ft")}, "us", nil, "", false},
		"tiny":             {[]Shape{circle(40, -105, "1ft")}, "us", nil, "only 3.1 sq ft", false},
		"huge":             {[]Shape{circle(40, -105, "3mi")}, "us", nil, "acres (28.27 square miles)", false},
		"far apart":        {[]Shape{circle(40, -105, "80ft"), circle(41, -105, "80ft")}, "metric", nil, "111 km from everything else", false},
		"far from records": {[]Shape{circle(40, -105, "80ft")}, "metric", []orb.Bound{{Min: orb.Point{-104, 40}, Max: orb.Point{-103, 41}}}, "85.4 km from everything else", false},
		"no minus":         {[]Shape{circle(40, 105, "80ft")}, "us", nil, "did you mean 40.00000, -105.00000?", false},
		"metric elsewhere": {[]Shape{circle(40, 105, "80ft")}, "metric", nil, "", false},
		"crossing":         {[]Shape{crossed}, "us", nil, "crosses itself", true},
		"no unit":          {[]Shape{circle(40, -105, "80")}, "us", nil, "80ft", true},
	} {
		a, odd := LookAt(c.shapes, c.units, c.others)
		if c.says == "" {
			if len(odd) > 0 || a.Empty() {
				t.Errorf("%s: %+v", name, odd)
			}
			continue
		}
		if len(odd) == 0 || !strings.Contains(odd[0].What, c.says) || odd[0].Wrong != c.wrong {
			t.Errorf("%s: %+v", name, odd)
		}
	}
	_, odd := LookAt([]Shape{crossed}, "us", nil)
	if p := odd[0].At; math.Hypot(p[0]+104.995, p[1]-40.005) > 1e-4 {
		t.Errorf("the crossing is said to be at %v", p)
	}
}

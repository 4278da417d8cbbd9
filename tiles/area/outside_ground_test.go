//go:build outside

package area

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// TestOutsideDistance holds distances, margins and widths against GeographicLib.
func TestOutsideDistance(t *testing.T) {
	var question struct {
		Direct  [][4]float64 `json:"direct"`
		Inverse [][4]float64 `json:"inverse"`
	}
	r := rand.New(rand.NewPCG(5, 2026))
	for range 2000 {
		lat, lon := -80+160*r.Float64(), -180+360*r.Float64()
		question.Inverse = append(question.Inverse, [4]float64{lat, lon, lat + 2*r.Float64() - 1, lon + 2*r.Float64() - 1})
	}
	for _, lat := range []float64{0, 30, 45, 60, 70, -45} {
		for _, meters := range []float64{0.5, 15.24, 300, 5000, MaxReach} {
			for azimuth := 0.0; azimuth < 360; azimuth += 5 {
				question.Direct = append(question.Direct, [4]float64{lat, -105, azimuth, meters})
			}
		}
	}
	var answer struct {
		Direct  [][2]float64
		Inverse []float64
	}
	node(t, &answer, question, "geodesic.mjs")
	off := 0.0
	for i, q := range question.Inverse {
		got := geodesic.Distance(orb.Point{q[1], q[0]}, orb.Point{q[3], q[2]})
		off = max(off, math.Abs(got-answer.Inverse[i]))
	}
	t.Logf("%d distances up to 2 degrees: at most %.3g m off", len(question.Inverse), off)
	if off > 1e-3 {
		t.Errorf("Distance is %v m off", off)
	}
	worst := map[float64]float64{}
	for i, q := range question.Direct {
		lat, meters := q[0], q[3]
		e := ellipseAt(orb.Point{-105, lat}, meters)
		x, y := tiles.Project(answer.Direct[i][1], answer.Direct[i][0])
		worst[lat] = max(worst[lat], math.Abs(math.Hypot((x-e.x)/e.a, (y-e.y)/e.b)-1))
	}
	for lat, w := range worst {
		t.Logf("radius at latitude %v: at most %.5f %% off", lat, 100*w)
		if !(w < 1e-3) {
			t.Errorf("at latitude %v a radius is %v %% off", lat, 100*w)
		}
	}
}

// TestOutsideWidth steps off the side of short lines at right angles by
// GeographicLib: what lies 0.1 % within the reach is in the strip, what lies
// 0.1 % beyond is not.
func TestOutsideWidth(t *testing.T) {
	type question struct {
		Direct [][4]float64 `json:"direct"`
	}
	type answer struct{ Direct [][2]float64 }
	type probe struct {
		line   orb.LineString
		meters float64
		inside bool
	}
	var along, aside question
	var probes []probe
	for _, lat := range []float64{0, 30, 45, 60, 70, -45} {
		for azimuth := 0.0; azimuth < 360; azimuth += 15 {
			along.Direct = append(along.Direct, [4]float64{lat, -105, azimuth, 20}, [4]float64{lat, -105, azimuth + 180, 20})
		}
	}
	var ends answer
	node(t, &ends, along, "geodesic.mjs")
	for i := 0; i < len(ends.Direct); i += 2 {
		lat, azimuth := along.Direct[i][0], along.Direct[i][2]
		line := orb.LineString{{ends.Direct[i+1][1], ends.Direct[i+1][0]}, {ends.Direct[i][1], ends.Direct[i][0]}}
		for _, meters := range []float64{1, 15.24, 100} {
			for _, side := range []float64{90, -90} {
				aside.Direct = append(aside.Direct, [4]float64{lat, -105, azimuth + side, meters * 0.999}, [4]float64{lat, -105, azimuth + side, meters * 1.001})
				probes = append(probes, probe{line, meters, true}, probe{line, meters, false})
			}
		}
	}
	var places answer
	node(t, &places, aside, "geodesic.mjs")
	for i, p := range probes {
		x, y := tiles.Project(places.Direct[i][1], places.Direct[i][0])
		held := slices.ContainsFunc(appendCapsules(nil, p.line, p.meters), func(c capsule) bool {
			west, east := c.columns(y, y)
			return x >= west && x <= east && y >= c.top() && y <= c.bottom()
		})
		if held != p.inside {
			t.Errorf("latitude %v, azimuth %v, %v m: a place %v m off the line is in the strip: %v",
				aside.Direct[i][0], aside.Direct[i][2], p.meters, aside.Direct[i][3], held)
		}
	}
	if len(probes) != 6*24*3*4 {
		t.Errorf("%d places", len(probes))
	}
}

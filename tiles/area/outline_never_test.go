package area

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
)

// TestOutlineNeverSmaller: a circle and the ends, sides and bends of a corridor
// hold all ground within their reach, to 0.01 % of it, and none beyond 0.5 %.
// The ground round a place is walked in a flat frame of meters.
func TestOutlineNeverSmaller(t *testing.T) {
	for _, lat := range []float64{0.05, 25, 40, 60, -45} {
		middle := orb.Point{-105, lat}
		f := geodesic.At(middle)
		at := func(east, north float64) orb.Point { return f.Degrees(orb.Point{east, north}) }
		bent := orb.LineString{at(0, 0), at(200, 30), at(400, 0), at(430, 300)}
		many := orb.LineString{}
		for i := range 200 { // a bow, whose corners are simplified
			sin, cos := math.Sincos(float64(i) / 200 * 2)
			many = append(many, at(500*cos, 500*sin))
		}
		for _, c := range []struct {
			name  string
			area  Area
			line  orb.LineString
			reach float64
		}{
			{"circle", Area{Discs: []Disc{{middle, 300 * measure.Foot}}}, orb.LineString{middle}, 300 * measure.Foot},
			{"corridor", Area{Strips: []Strip{{bent[:2], 30 * measure.Foot}}}, bent[:2], 30 * measure.Foot},
			{"bent corridor", Area{Strips: []Strip{{bent, 30 * measure.Foot}}}, bent, 30 * measure.Foot},
			{"bow", Area{Strips: []Strip{{many, 60 * measure.Foot}}}, many, 60 * measure.Foot},
		} {
			outline := c.area.Outline(0)
			for i := 0; i < len(c.line); i += 1 + len(c.line)/20 {
				for turn := range 720 {
					sin, cos := math.Sincos(float64(turn) * math.Pi / 360)
					for _, part := range []float64{0.9999, 1.005} {
						from := f.Meters(c.line[i])
						p := at(from[0]+part*c.reach*cos, from[1]+part*c.reach*sin)
						inside := planar.MultiPolygonContains(outline, p)
						if part < 1 && !inside {
							t.Fatalf("%s at %v: a place at %.4f of the reach is outside", c.name, lat, part)
						}
						if part > 1 && inside && len(c.line) <= 2 && toLine(f, c.line, p) > 1.0049*c.reach {
							t.Fatalf("%s at %v: a place at %.4f of the reach is inside", c.name, lat, toLine(f, c.line, p)/c.reach)
						}
					}
				}
			}
		}
	}
}

// toLine is from a place to a line in meters, by the frame.
func toLine(f geodesic.Frame, line orb.LineString, p orb.Point) float64 {
	best, at := math.Inf(1), f.Meters(p)
	for i := range line {
		best = min(best, planar.DistanceFromSegment(f.Meters(line[max(i-1, 0)]), f.Meters(line[i]), at))
	}
	return best
}

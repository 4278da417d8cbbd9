package brief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
)

// wide is the map of a page on its side.
var wide = box{10, 22, 259.4, 136.9}

// walk is a route of legs of so many meters, each turned by so much, radians.
func walk(start orb.Point, legs, turns []float64) orb.LineString {
	line, way := orb.LineString{start}, 0.0
	for i, leg := range legs {
		way += turns[i]
		line = append(line, geodesic.At(line[i]).Degrees(orb.Point{leg * math.Cos(way), leg * math.Sin(way)}))
	}
	return line
}

func randomWalk(r *rand.Rand) orb.LineString {
	n := 1 + r.IntN(30)
	legs, turns := make([]float64, n), make([]float64, n)
	long, sharp := []float64{3, 30, 200}[r.IntN(3)], []float64{0.02, 0.3, 3.1}[r.IntN(3)]
	for i := range n {
		legs[i], turns[i] = long*(0.05+r.Float64()), sharp*(2*r.Float64()-1)
	}
	turns[0] = 2 * math.Pi * r.Float64()
	return walk(orb.Point{360*r.Float64() - 180, 130*r.Float64() - 65}, legs, turns)
}

// TestStripsShowTheCorridor: all that is within half of the corridor's width of
// its centerline is on a strip, whichever way the route bends.
func TestStripsShowTheCorridor(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	cutUp := 0
	for i := range 300 {
		units, line := []string{"us", "metric"}[i%2], randomWalk(r)
		s := packData{about: pack.About{Units: units, MarginM: 20 * r.Float64()}, routes: newCenterlines([]pack.Route{{Line: line, Width: 1 + 40*r.Float64()}})}
		p, ok := s.chooseStrips(wide)
		if !ok || len(p.strips) > mostSheets {
			t.Fatalf("walk %d: %d strips, %v", i, len(p.strips), ok)
		}
		if len(p.strips) > 1 {
			cutUp++
		}
		c := s.routes[0]
		for station := 0.0; station < c.length()+1; station += max(c.length()/500, 0.25) {
			frame := geodesic.At(c.placeAt(station))
			for a := 0.0; a < 2*math.Pi; a += math.Pi / 12 {
				at := frame.Degrees(orb.Point{0.999 * c.half * math.Cos(a), 0.999 * c.half * math.Sin(a)})
				if !slices.ContainsFunc(p.strips, func(s strip) bool { return s.shows(s.toPaper(at)) }) {
					t.Fatalf("walk %d: no strip shows what is %.1f m from station %.1f of %.1f", i, c.half, station, c.length())
				}
			}
		}
	}
	if cutUp < 100 {
		t.Errorf("only %d walks took several strips", cutUp)
	}
}

// TestStripsFollowOneAnother: each begins where the one before ends, at the same
// line on the ground, and names it and its station.
func TestStripsFollowOneAnother(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for i := range 60 {
		units := []string{"us", "metric"}[i%2]
		s := packData{about: pack.About{Units: units, MarginM: 10}, routes: newCenterlines([]pack.Route{{Line: randomWalk(r), Width: 10}, {Line: randomWalk(r), Width: 20}})}
		p, ok := s.chooseStrips(wide)
		if !ok {
			t.Fatal("no strips")
		}
		for j, one := range p.strips {
			if one.number != j+1 || one.on != rowBox(wide, j%p.rows, p.rows) || !(one.to > one.from) {
				t.Fatalf("strip %d is %+v", j+1, one)
			}
			first, last := j == 0 || p.strips[j-1].route != one.route, j == len(p.strips)-1 || p.strips[j+1].route != one.route
			if first != (one.before == 0) || last != (one.after == 0) || first && one.from != 0 || last && one.to != one.of.length() {
				t.Fatalf("strip %d: ends %v %v: %+v", j+1, first, last, one)
			}
			if last {
				continue
			}
			next := p.strips[j+1]
			if next.from != one.to || one.after != next.number || next.before != one.number {
				t.Fatalf("strips %d and %d do not meet: %g, %g", one.number, next.number, one.to, next.from)
			}
			var a, b recorder
			one.caption(&a, units)
			next.caption(&b, units)
			station := stationText(one.to, units)
			if !a.says(fmt.Sprintf("match line %s, strip %d →", station, next.number)) || !b.says(fmt.Sprintf("← strip %d, match line %s", one.number, station)) {
				t.Fatalf("%q, then %q", a.texts, b.texts)
			}
			a, b = recorder{}, recorder{}
			one.matchLine(&a, one.to)
			next.matchLine(&b, next.from)
			for k, at := range a.strokes[1] {
				if apart := geodesic.Distance(one.toGround(at), next.toGround(b.strokes[1][k])); apart > 0.01 {
					t.Fatalf("the match line of strips %d and %d lies %g m apart", one.number, next.number, apart)
				}
			}
		}
	}
}

// recorder is a canvas that keeps what is drawn.
type recorder struct {
	canvas
	texts   []string
	strokes [][]orb.Point
	fills   [][]orb.Ring
}

func (r *recorder) Stroke(path []orb.Point, _ pen)             { r.strokes = append(r.strokes, path) }
func (r *recorder) Fill(rings []orb.Ring, _ string, _ float64) { r.fills = append(r.fills, rings) }
func (r *recorder) Text(_ orb.Point, s string, _ lettering)    { r.texts = append(r.texts, s) }
func (r *recorder) says(s string) bool                         { return slices.Contains(r.texts, s) }

// TestStripScaleAndNorth: on paper, places are as far apart as the ellipsoid and
// the scale say; the route runs to the right, and the arrow as drawn is turned
// against it by the azimuth of Vincenty's inverse.
func TestStripScaleAndNorth(t *testing.T) {
	for _, lat := range []float64{0, 40, -40, 60} {
		for degrees := 0.0; degrees < 360; degrees += 15 {
			line := walk(orb.Point{-105, lat}, []float64{80}, []float64{degrees * math.Pi / 180})
			s := packData{about: pack.About{Units: "us", MarginM: 15}, routes: newCenterlines([]pack.Route{{Line: line, Width: 18}})}
			p, _ := s.chooseStrips(wide)
			if len(p.strips) != 1 {
				t.Fatalf("%d strips", len(p.strips))
			}
			one := p.strips[0]
			a, b := one.toPaper(line[0]), one.toPaper(line[1])
			if long := geodesic.Distance(line[0], line[1]) / p.scale * 1000; math.Abs((b[0]-a[0])/long-1) > 1e-4 || math.Abs(b[1]-a[1]) > 0.01 {
				t.Errorf("%g°, %g°: from %v to %v, %.3f mm by the scale", lat, degrees, a, b, long)
			}
			up, down := one.toGround(orb.Point{40, 30}), one.toGround(orb.Point{90, 140})
			if got := math.Hypot(50, 110) / 1000 * p.scale; math.Abs(geodesic.Distance(up, down)/got-1) > 1e-4 {
				t.Errorf("%g°, %g°: across %.3f m by the scale, %.3f m on the ground", lat, degrees, got, geodesic.Distance(up, down))
			}
			var drawn recorder
			one.caption(&drawn, "us")
			arrow := drawn.fills[0][0] // tip, one foot, the notch between the feet
			got := math.Atan2(arrow[2][1]-arrow[0][1], arrow[0][0]-arrow[2][0])
			if off := math.Remainder(got-azimuth(line[0], line[1]), 2*math.Pi); math.Abs(off) > 1e-3 {
				t.Errorf("%g°, %g°: the arrow is off by %.3f°", lat, degrees, off*180/math.Pi)
			}
		}
	}
}

// azimuth is the direction from a place to another, radians clockwise from true
// north: T. Vincenty, Survey Review 23 (176), 1975, equations 13 to 20.
func azimuth(a, b orb.Point) float64 {
	const f = 1 / 298.257223563
	rad := math.Pi / 180
	u1, u2 := math.Atan((1-f)*math.Tan(a[1]*rad)), math.Atan((1-f)*math.Tan(b[1]*rad))
	l := (b[0] - a[0]) * rad
	lambda := l
	s1, c1 := math.Sincos(u1)
	s2, c2 := math.Sincos(u2)
	for range 20 {
		sl, cl := math.Sincos(lambda)
		sinS, cosS := math.Hypot(c2*sl, c1*s2-s1*c2*cl), s1*s2+c1*c2*cl
		sinA := c1 * c2 * sl / sinS
		cosA2 := 1 - sinA*sinA
		cosM := 0.0
		if cosA2 > 1e-12 {
			cosM = cosS - 2*s1*s2/cosA2
		}
		c := f / 16 * cosA2 * (4 + f*(4-3*cosA2))
		lambda = l + (1-c)*f*sinA*(math.Atan2(sinS, cosS)+c*sinS*(cosM+c*cosS*(2*cosM*cosM-1)))
	}
	sl, cl := math.Sincos(lambda)
	return math.Atan2(c2*sl, c1*s2-s1*c2*cl)
}

// TestChosenStrips: useful scales where they do, then the margin gives way, then
// the scale; never more strips than a crew carries.
func TestChosenStrips(t *testing.T) {
	mile := 5280 * measure.Foot
	for name, c := range map[string]struct {
		units               string
		long, width, margin float64
		scale               float64
		rows                int
		whole               bool
	}{
		"3 miles, 60 ft":         {"us", 3 * mile, 60 * measure.Foot, 50 * measure.Foot, 480, 1, true},
		"narrow, three a page":   {"us", mile, 10 * measure.Foot, 10 * measure.Foot, 480, 3, true},
		"300 ft wide":            {"us", mile, 300 * measure.Foot, 50 * measure.Foot, 1200, 1, true},
		"a margin of 1000 ft":    {"us", mile, 60 * measure.Foot, 1000 * measure.Foot, 1200, 1, false},
		"20 miles":               {"us", 20 * mile, 60 * measure.Foot, 50 * measure.Foot, 2400, 3, true},
		"metric":                 {"metric", 1500, 20, 10, 500, 1, true},
		"metric, 200 m wide":     {"metric", 1500, 200, 10, 2000, 1, true},
		"metric, as long as may": {"metric", 12000, 20, 10, 1000, 2, true},
	} {
		s := packData{about: pack.About{Units: c.units, MarginM: c.margin}}
		s.routes = newCenterlines([]pack.Route{{Line: walk(middle, []float64{c.long}, []float64{0.5}), Width: c.width}})
		p, ok := s.chooseStrips(wide)
		if !ok || p.scale != c.scale || p.rows != c.rows || (p.margin == c.margin) != c.whole || len(p.strips) > mostSheets {
			t.Errorf("%s: %v, 1:%g, %d rows, margin %g of %g, %d strips", name, ok, p.scale, p.rows, p.margin, c.margin, len(p.strips))
		}
	}
}

// TestRouteInPieces: lines that meet are one route, others are not.
func TestRouteInPieces(t *testing.T) {
	a, b, c, d := from(0, 0), from(100, 0), from(100, 80), from(300, 80)
	for name, x := range map[string]struct {
		routes []pack.Route
		want   []float64 // lengths
	}{
		"in pieces":    {[]pack.Route{{Line: orb.LineString{a, b}, Width: 9}, {Line: orb.LineString{b, c}, Width: 9}, {Line: orb.LineString{c, d}, Width: 9}}, []float64{380}},
		"apart":        {[]pack.Route{{Line: orb.LineString{a, b}, Width: 9}, {Line: orb.LineString{c, d}, Width: 9}}, []float64{100, 200}},
		"other widths": {[]pack.Route{{Line: orb.LineString{a, b}, Width: 9}, {Line: orb.LineString{b, c}, Width: 5}}, []float64{100, 80}},
	} {
		all := newCenterlines(x.routes)
		if len(all) != len(x.want) {
			t.Errorf("%s: %d courses", name, len(all))
			continue
		}
		for i, c := range all {
			if math.Abs(c.length()-x.want[i]) > 0.05 || len(c.at) != len(c.line) {
				t.Errorf("%s: course %d is %.2f m long", name, i+1, c.length())
			}
		}
	}
}

func TestStationText(t *testing.T) {
	for _, c := range []struct {
		meters float64
		units  string
		want   string
	}{
		{0, "us", "0+00"}, {30.48, "us", "1+00"}, {30.48 * 49.21, "us", "49+21"}, {30.479, "us", "1+00"}, {0, "metric", "0+000"}, {20, "metric", "0+020"}, {1234.4, "metric", "1+234"},
	} {
		if got := stationText(c.meters, c.units); got != c.want {
			t.Errorf("%g m: %q, want %q", c.meters, got, c.want)
		}
	}
}

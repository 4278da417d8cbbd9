package area

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"groundsheet/tiles"
)

func TestOutline(t *testing.T) {
	const w, s, e, n = -105.0, 40.0, -104.99, 40.005 // 853.94 m by 555.17 m (calculated)
	box := orb.MultiPolygon{{{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}}}
	hole := orb.Ring{{-104.998, 40.001}, {-104.996, 40.001}, {-104.996, 40.002}, {-104.998, 40.002}, {-104.998, 40.001}} // 170.79 m by 111.03 m
	next := orb.Polygon{{{e, s}, {e + 0.01, s}, {e + 0.01, n}, {e, n}, {e, s}}}
	tests := []struct {
		name     string
		area     Area
		margin   float64
		polygons int
		rings    int
		want, by float64 // square meters
	}{
		{"nothing", Area{}, 100, 0, 0, 0, 0},
		{"bare line", Area{Strips: []Strip{{orb.LineString{{w, s}, {e, s}}, 0}}}, 0, 0, 0, 0, 0},
		{"as drawn", Area{Polygons: box}, 0, 1, 1, 853.94 * 555.17, 100},
		{"grown", Area{Polygons: box}, 50, 1, 1, 853.94*555.17 + 2*50*(853.94+555.17) + math.Pi*2500, 1000},
		{"two that touch become one", Area{Polygons: append(box, next)}, 0, 1, 1, 2 * 853.94 * 555.17, 200},
		{"a hole shrinks", Area{Polygons: orb.MultiPolygon{{box[0][0], hole}}}, 20, 1, 2,
			853.94*555.17 + 2*20*(853.94+555.17) + math.Pi*400 - (170.79-40)*(111.03-40), 400},
		{"a hole closes", Area{Polygons: orb.MultiPolygon{{box[0][0], hole}}}, 60, 1, 1, 853.94*555.17 + 2*60*(853.94+555.17) + math.Pi*3600, 2000},
		{"disc", Area{Discs: []Disc{{orb.Point{w, s}, 60}}}, 40, 1, 1, math.Pi * 1e4, 0.01 * math.Pi * 1e4},
		{"strip", Area{Strips: []Strip{{orb.LineString{{w, s}, {e, s}}, 10}}}, 0, 1, 1, 853.94*20 + math.Pi*100, 20},
		{"over the antimeridian", Area{Discs: []Disc{{orb.Point{180, 10}, 1000}}}, 0, 2, 2, math.Pi * 1e6, 0.01 * math.Pi * 1e6},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := test.area.Outline(test.margin)
			rings := 0
			for _, p := range got {
				rings += len(p)
				for i, ring := range p {
					if ccw := planar.Area(ring) > 0; ccw != (i == 0) {
						t.Errorf("ring %d runs the wrong way", i)
					}
				}
				if b := p.Bound(); b.Min[0] < -180 || b.Max[0] > 180 {
					t.Errorf("beyond 180: %v", b)
				}
			}
			if len(got) != test.polygons || rings != test.rings {
				t.Errorf("%d polygons with %d rings, want %d with %d", len(got), rings, test.polygons, test.rings)
			}
			if m2 := (Area{Polygons: got}).SquareMeters(); math.Abs(m2-test.want) > test.by {
				t.Errorf("%.1f m², want %.1f within %.1f", m2, test.want, test.by)
			}
		})
	}
}

// TestOutlineHoldsGround: what is within 98 % of the margin is inside, what is
// beyond it is outside, and the result is valid.
func TestOutlineHoldsGround(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 2026))
	for shape := range 150 {
		line, a := randomSite(r, orb.Point{-179 + 358*r.Float64(), -70 + 140*r.Float64()})
		margin := math.Pow(10, 3*r.Float64())
		if shape%2 == 0 { // a second part, so that more is joined
			_, b := randomSite(r, line[0])
			a = a.Join(b).Join(Area{Strips: []Strip{{line, margin / 2}}})
		}
		outline := a.Outline(margin)
		if _, err := Polygons(one(outline)); err != nil {
			t.Fatalf("shape %d: %v", shape, err)
		}
		for _, polygon := range a.Polygons {
			b := polygon.Bound()
			for range 100 {
				p := orb.Point{b.Min[0] + r.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + r.Float64()*(b.Max[1]-b.Min[1])}
				if planar.PolygonContains(polygon, p) && !planar.MultiPolygonContains(outline, p) {
					t.Fatalf("shape %d: %v is in the area but not in its outline", shape, p)
				}
			}
		}
		if len(a.Polygons) > 1 {
			continue
		}
		for range 300 {
			_, p := nearLine(r, line, 1.3*margin)
			// The box of a place without width: the distance to the line.
			d := groundDistance(line, tiles.Box{West: p[0], South: p[1], East: p[0], North: p[1]})
			inside := planar.MultiPolygonContains(outline, p)
			if d < 0.98*margin && !inside || d > 1.02*margin && inside && !planar.MultiPolygonContains(a.Polygons, p) {
				t.Fatalf("shape %d: margin %v m, a place %v m away is inside: %v", shape, margin, d, inside)
			}
		}
	}
}

// TestOutlineOfCurves: the same for lines of many corners, from gentle bends to
// knots, whose edges are longer and shorter than the reach.
func TestOutlineOfCurves(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 2026))
	for shape := range 30 {
		p := orb.Point{-179 + 358*r.Float64(), -70 + 140*r.Float64()}
		direction, wild := 2*math.Pi*r.Float64(), 0.1*math.Pow(20, r.Float64())
		line := orb.LineString{p}
		for range 150 { // steps of 20 m
			direction += wild * (2*r.Float64() - 1)
			sin, cos := math.Sincos(direction)
			p = orb.Point{p[0] + 0.00018*cos/math.Cos(radians(p[1])), p[1] + 0.00018*sin}
			line = append(line, p)
		}
		reach := math.Pow(10, 2.5*r.Float64())
		outline := Area{Strips: []Strip{{line, reach}}}.Outline(0)
		if _, err := Polygons(one(outline)); err != nil {
			t.Fatalf("shape %d: %v", shape, err)
		}
		for range 60 {
			_, p := nearLine(r, line, 1.3*reach)
			d := groundDistance(line, tiles.Box{West: p[0], South: p[1], East: p[0], North: p[1]})
			inside := planar.MultiPolygonContains(outline, p)
			if d < 0.98*reach && !inside || d > 1.02*reach && inside {
				t.Fatalf("shape %d: reach %v m, a place %v m away is inside: %v", shape, reach, d, inside)
			}
		}
	}
}

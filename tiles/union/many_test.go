package union

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/peterstace/simplefeatures/geom"
)

// valid has the library judge the result (OGC 06-103r4, 6.1.14).
func valid(t *testing.T, what string, got orb.MultiPolygon) {
	t.Helper()
	var polygons []geom.Polygon
	for _, p := range got {
		var rings []geom.LineString
		for i, ring := range p {
			rings = append(rings, toLibrary(ring))
			if ccw := ring.Orientation() == orb.CCW; ccw != (i == 0) {
				t.Errorf("%s: ring %d runs the wrong way", what, i)
			}
		}
		polygons = append(polygons, geom.NewPolygon(rings))
	}
	if err := geom.NewMultiPolygon(polygons).Validate(); err != nil {
		t.Errorf("%s: %v", what, err)
	}
}

// holdsWhatAnyHolds looks at places that are not on an edge.
func holdsWhatAnyHolds(t *testing.T, what string, r *rand.Rand, parts, got orb.MultiPolygon, unit float64) {
	t.Helper()
	b := parts.Bound().Pad(unit)
	for range 300 {
		p := orb.Point{b.Min[0] + r.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + r.Float64()*(b.Max[1]-b.Min[1])}
		near := false
		for _, polygon := range parts {
			for _, ring := range polygon {
				near = near || planar.DistanceFrom(orb.LineString(ring), p) < 3*unit
			}
		}
		if !near && planar.MultiPolygonContains(parts, p) != planar.MultiPolygonContains(got, p) {
			t.Fatalf("%s: %v is inside: %v", what, p, planar.MultiPolygonContains(got, p))
		}
	}
}

// star is a polygon that does not cross itself, its corners on a lattice.
func star(r *rand.Rand, middle orb.Point, size, lattice float64) orb.Polygon {
	var ring orb.Ring
	n := 3 + r.IntN(12)
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.3*r.Float64()) / float64(n))
		d := size * (0.3 + 0.7*r.Float64())
		ring = append(ring, orb.Point{math.Round((middle[0]+d*cos)/lattice) * lattice, math.Round((middle[1]+d*sin)/lattice) * lattice})
	}
	return orb.Polygon{append(ring, ring[0])}
}

// TestManyAtRandom: polygons on coarse lattices, where edges lie on one another
// and many meet in a point, and on the finest.
func TestManyAtRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2026))
	for _, lattice := range []float64{0.25, 0.01, 1e-5, 1e-9} {
		for shape := range 150 {
			var parts orb.MultiPolygon
			for len(parts) < 2+r.IntN(30) {
				middle := orb.Point{-105 + 2*r.Float64(), 40 + r.Float64()}
				p := star(r, middle, 0.5*r.Float64()+2*lattice, lattice)
				if toPolygon(p).Validate() != nil || planar.Area(p) == 0 {
					continue
				}
				if parts = append(parts, p); r.IntN(3) == 0 {
					parts = append(parts, p) // the same again
				}
			}
			got, err := Of(parts)
			if err != nil {
				t.Fatalf("lattice %v, shape %d: %v", lattice, shape, err)
			}
			valid(t, "random", got)
			holdsWhatAnyHolds(t, "random", r, parts, got, max(1e-8, lattice*1e-6))
			if whole := pairs(t, parts); math.Abs(planar.Area(got)-planar.Area(whole)) > 1e-7*planar.Area(whole) {
				t.Errorf("lattice %v, shape %d: area %.12f, by the library %.12f", lattice, shape, planar.Area(got), planar.Area(whole))
			}
		}
	}
}

func toPolygon(p orb.Polygon) geom.Polygon {
	var rings []geom.LineString
	for _, ring := range p {
		rings = append(rings, toLibrary(ring))
	}
	return geom.NewPolygon(rings)
}

// pairs joins one after the other with the library.
func pairs(t *testing.T, parts orb.MultiPolygon) orb.MultiPolygon {
	t.Helper()
	var whole geom.Geometry
	for _, p := range parts {
		next, err := geom.Union(whole, toPolygon(p).AsGeometry())
		if err != nil {
			t.Fatal(err)
		}
		whole = next
	}
	return fromLibrary(whole)
}

// TestManyApart: a lattice of squares, each with a hole and an island in it, some
// touching at corners; all are kept, in more joins than one.
func TestManyApart(t *testing.T) {
	var parts orb.MultiPolygon
	const n = 60
	for x := range n {
		for y := range n {
			at := func(low, high float64) orb.Ring {
				w, s := float64(x)/100, float64(y)/100
				return orb.Ring{{w + low, s + low}, {w + high, s + low}, {w + high, s + high}, {w + low, s + high}, {w + low, s + low}}
			}
			if (x+y)%2 == 0 {
				parts = append(parts, orb.Polygon{at(0, 0.01), at(0.002, 0.008)}, orb.Polygon{at(0.004, 0.006)})
			}
		}
	}
	got, err := Of(parts)
	if err != nil || len(got) != n*n {
		t.Fatalf("%d polygons, %v, want %d", len(got), err, n*n)
	}
	valid(t, "apart", got)
	if want := n * n / 2 * (0.01*0.01 - 0.006*0.006 + 0.002*0.002); math.Abs(planar.Area(got)-want) > 1e-9 {
		t.Errorf("area %v, want %v", planar.Area(got), want)
	}
}

// TestBrush: long slivers, nearly parallel, that end within some units of one place, as the margins round
// the teeth of an outline do: cutting them where they cross must come to an end.
func TestBrush(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 2026))
	unit := 1 / fine
	for shape := range 400 {
		middle := orb.Point{-140 + r.Float64(), 40 + r.Float64()}
		turn, spread := 2*math.Pi*r.Float64(), math.Pow(10, -1-3*r.Float64())
		at := func(far, angle float64) orb.Point {
			sin, cos := math.Sincos(angle)
			return onGrid(orb.Point{middle[0] + far*unit*cos, middle[1] + far*unit*sin}).degrees()
		}
		var parts orb.MultiPolygon
		for len(parts) < 12+r.IntN(20) {
			angle := turn + spread*(r.Float64()-0.5)
			ring := orb.Ring{at(2e4+2e4*r.Float64(), angle), at(6*r.Float64(), 7*r.Float64()), at(6*r.Float64(), 7*r.Float64())}
			p := orb.Polygon{append(ring, ring[0])}
			if toPolygon(p).Validate() == nil && planar.Area(p) != 0 {
				parts = append(parts, p)
			}
		}
		got, err := Of(parts)
		if err != nil {
			t.Fatalf("brush %d: %v", shape, err)
		}
		valid(t, "brush", got)
		holdsWhatAnyHolds(t, "brush", r, parts, got, unit)
	}
}

// FuzzOf takes triangles on a small lattice: every way of touching there is.
func FuzzOf(f *testing.F) {
	f.Add([]byte{0, 0, 4, 0, 0, 4, 4, 4, 0, 4, 4, 0}, uint8(1))
	f.Add([]byte{0, 0, 7, 3, 1, 6, 2, 2, 5, 1, 6, 6, 3, 0, 3, 7, 5, 4}, uint8(3))
	f.Fuzz(func(t *testing.T, data []byte, scale uint8) {
		unit := float64(1+int(scale)) / fine // down to the grid itself
		var parts orb.MultiPolygon
		for ; len(data) >= 6 && len(parts) < 12; data = data[6:] {
			var ring orb.Ring
			for i := range 3 {
				ring = append(ring, orb.Point{float64(data[2*i]%16) * unit, float64(data[2*i+1]%16) * unit})
			}
			if p := (orb.Polygon{append(ring, ring[0])}); planar.Area(p) != 0 {
				parts = append(parts, p)
			}
		}
		got, err := Of(parts)
		if err != nil {
			t.Fatal(err)
		}
		// On the grid itself crossings move: areas are only near then.
		sum, largest := 0.0, 0.0
		for _, p := range parts {
			sum, largest = sum+math.Abs(planar.Area(p)), max(largest, math.Abs(planar.Area(p)))
		}
		slack := 16 * float64(len(parts)*len(parts)) * unit / fine
		if area := planar.Area(got); area > sum+slack || area < largest-slack {
			t.Errorf("area %g of parts of %g, the largest %g", area, sum, largest)
		}
		for _, p := range got {
			for _, ring := range p {
				if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
					t.Errorf("a ring of %v", ring)
				}
			}
		}
	})
}

// fromLibrary takes the polygons out of a geometry of the library.
func fromLibrary(g geom.Geometry) orb.MultiPolygon {
	var all orb.MultiPolygon
	for _, one := range g.Dump() {
		polygon, ok := one.AsPolygon()
		if !ok || polygon.IsEmpty() {
			continue
		}
		var rings orb.Polygon
		for _, line := range polygon.DumpRings() {
			points := line.Coordinates()
			ring := make(orb.Ring, points.Length())
			for i := range ring {
				at := points.GetXY(i)
				ring[i] = orb.Point{at.X, at.Y}
			}
			rings = append(rings, ring)
		}
		all = append(all, rings)
	}
	return all
}

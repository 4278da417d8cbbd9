package area

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// TestMargin measures covers with a margin by distances on the ellipsoid:
// ground within the margin is covered, and no covered tile is further away.
func TestMargin(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2026))
	far, checked := 0.0, 0
	for shape := range 200 {
		lat, lon := -70+140*r.Float64(), -179+358*r.Float64()
		line, a := randomSite(r, orb.Point{lon, lat})
		margin := math.Pow(10, 3.5*r.Float64()) // 1 m to 3 km
		if shape%10 == 1 {
			margin = 3000
		}
		if shape%4 == 0 { // a strip of the same reach as a margin
			a = Area{Strips: []Strip{{line, margin / 3}}}
		}
		if shape%10 == 1 { // a meridian, along which the scale changes much
			line = orb.LineString{{lon, min(lat, 60)}, {lon, min(lat, 60) + 10}}
			a = Area{Strips: []Strip{{line, margin / 3}}}
		}
		zoom := min(int(math.Log2(4e7*math.Cos(radians(lat))/margin))+r.IntN(3), 22)
		c, reach := cover(a, zoom, margin), margin
		if len(a.Strips) > 0 {
			c = cover(a, zoom, margin-a.Strips[0].HalfWidth)
		}
		for range 3000 {
			on, p := nearLine(r, line, reach)
			if geodesic.Distance(on, p) <= reach*0.999 && !c.Has(tiles.At(p[0], p[1], zoom)) {
				t.Fatalf("shape %d: zoom %d, %v m: no tile for %v, %v m from the line", shape, zoom, reach, p, geodesic.Distance(on, p))
			}
		}
		inside := cover(Area{Polygons: a.Polygons}, zoom, 0)
		for id := range c.All() {
			if inside.Has(id) || isInner(c, id) {
				continue
			}
			d := groundDistance(line, id.Bounds())
			checked++
			far = max(far, d/reach)
			if d > reach*1.001+1e-6 {
				t.Fatalf("shape %d: tile %v is %v m from the line, margin %v m", shape, id, d, reach)
			}
		}
	}
	t.Logf("%d outer tiles, the furthest at %.6f of the margin", checked, far)
	if far < 0.99 {
		t.Errorf("no tile came near the margin: %v", far)
	}
}

// randomSite is a polygon of some corners within a few kilometers, with its
// ring as a line.
func randomSite(r *rand.Rand, p orb.Point) (orb.LineString, Area) {
	size := 0.0005 * math.Pow(10, 2*r.Float64())
	var line orb.LineString
	corners := 3 + r.IntN(6)
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.8*r.Float64()) / float64(corners))
		d := size * (0.4 + 0.6*r.Float64())
		line = append(line, orb.Point{p[0] + d*cos/math.Cos(radians(p[1])), p[1] + d*sin})
	}
	line = append(line, line[0])
	return line, Area{Polygons: orb.MultiPolygon{{orb.Ring(line)}}}
}

// nearLine is a place on a line, and one within about reach meters of it.
func nearLine(r *rand.Rand, line orb.LineString, reach float64) (on, p orb.Point) {
	i := 1 + r.IntN(len(line)-1)
	on = part(line[i-1], line[i], r.IntN(1001), 1000)
	sin, cos := math.Sincos(2 * math.Pi * r.Float64())
	d := reach * math.Sqrt(r.Float64())
	meridian, across := radii(radians(on[1]))
	return on, orb.Point{on[0] + d*sin/(across*math.Cos(radians(on[1])))*180/math.Pi, on[1] + d*cos/meridian*180/math.Pi}
}

// isInner reports whether all neighbors of a tile are in the cover too.
func isInner(c tiles.Cover, t tiles.ID) bool {
	return c.Has(tiles.ID{Z: t.Z, X: t.X - 1, Y: t.Y}) && c.Has(tiles.ID{Z: t.Z, X: t.X + 1, Y: t.Y}) &&
		c.Has(tiles.ID{Z: t.Z, X: t.X, Y: t.Y - 1}) && c.Has(tiles.ID{Z: t.Z, X: t.X, Y: t.Y + 1})
}

// groundDistance is about the shortest way from a line to a box, in meters:
// the box's nearest place is found by latitude and longitude, the way is
// measured on the ellipsoid. It is never too short by more than the walk of
// the last step.
func groundDistance(line orb.LineString, b tiles.Box) float64 {
	best, where := math.Inf(1), orb.Point{}
	flat := func(p orb.Point) (float64, orb.Point) {
		q := orb.Point{min(max(p[0], b.West), b.East), min(max(p[1], b.South), b.North)}
		return math.Hypot((p[0]-q[0])*math.Cos(radians(p[1])), p[1]-q[1]), q
	}
	for i := 1; i < len(line); i++ {
		lo, hi := 0.0, 1.0 // the distance to a convex box is convex along a line
		at := func(s float64) orb.Point {
			return orb.Point{line[i-1][0] + s*(line[i][0]-line[i-1][0]), line[i-1][1] + s*(line[i][1]-line[i-1][1])}
		}
		for range 60 {
			a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
			da, _ := flat(at(a))
			db, _ := flat(at(b))
			if da < db {
				hi = b
			} else {
				lo = a
			}
		}
		if d, _ := flat(at(lo)); d < best {
			best, where = d, at(lo)
		}
	}
	_, q := flat(where)
	return geodesic.Distance(where, q)
}

// TestMarginGrows: a larger margin never loses a tile.
func TestMarginGrows(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2026))
	for shape := range 100 {
		_, a := randomSite(r, orb.Point{-179 + 358*r.Float64(), -80 + 160*r.Float64()})
		small, large := cover(a, 17, 10), cover(a, 17, 10+100*r.Float64())
		for id := range small.All() {
			if !large.Has(id) {
				t.Fatalf("shape %d: the larger margin lacks %v", shape, id)
			}
		}
	}
}

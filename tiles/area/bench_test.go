package area

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/paulmach/orb/maptile/tilecover"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// county is a polygon 25 km across with 5,000 corners at latitude 40.
func county() orb.Polygon { return star(0.1126, 5000) }

// site is a polygon 2 km across with 400 corners.
func site() orb.Polygon { return star(0.009, 400) }

func star(degrees float64, corners int) orb.Polygon {
	r := rand.New(rand.NewPCG(1, 2))
	var ring orb.Ring
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
		d := degrees * (0.85 + 0.1*math.Sin(11*math.Atan2(sin, cos)) + 0.0002*r.Float64())
		ring = append(ring, orb.Point{-105 + d*cos/math.Cos(radians(40)), 40 + d*sin})
	}
	return orb.Polygon{append(ring, ring[0])}
}

// corridor is 60 km long and 30 m wide; the polygons are the same without the
// round ends and joints.
func corridor() (Area, orb.MultiPolygon) {
	line := orb.LineString{{-105, 40}, {-104.8, 40.1}, {-104.7, 40.05}, {-104.5, 40.2}, {-104.4, 40.2}}
	var polygons orb.MultiPolygon
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		east, north := (q[0]-p[0])*math.Cos(radians(40)), q[1]-p[1]
		scale := 15 / (semiMajor * math.Pi / 180) / math.Hypot(east, north)
		dx, dy := -north*scale/math.Cos(radians(40)), east*scale
		ring := orb.Ring{{p[0] + dx, p[1] + dy}, {q[0] + dx, q[1] + dy}, {q[0] - dx, q[1] - dy}, {p[0] - dx, p[1] - dy}}
		polygons = append(polygons, orb.Polygon{append(ring, ring[0])})
	}
	return Area{Strips: []Strip{{line, 15}}}, polygons
}

// BenchmarkCover counts and lists tiles, beside github.com/paulmach/orb on the
// same polygons: x-orb is how many times faster the cover is, by medians.
// Listing is reading every tile of the cover in order; orb's cover lists the
// tiles in its making.
func BenchmarkCover(b *testing.B) {
	strip, quads := corridor()
	for _, test := range []struct {
		name     string
		area     Area
		polygons orb.MultiPolygon
		min, max int
	}{
		{"2 km/z14", Area{}, orb.MultiPolygon{site()}, 14, 14},
		{"2 km/z16", Area{}, orb.MultiPolygon{site()}, 16, 16},
		{"2 km/z18", Area{}, orb.MultiPolygon{site()}, 18, 18},
		{"2 km/z20", Area{}, orb.MultiPolygon{site()}, 20, 20},
		{"2 km/z22", Area{}, orb.MultiPolygon{site()}, 22, 22},
		{"2 km/z14-22", Area{}, orb.MultiPolygon{site()}, 14, 22},
		{"25 km/z12", Area{}, orb.MultiPolygon{county()}, 12, 12},
		{"25 km/z14", Area{}, orb.MultiPolygon{county()}, 14, 14},
		{"25 km/z16", Area{}, orb.MultiPolygon{county()}, 16, 16},
		{"25 km/z18", Area{}, orb.MultiPolygon{county()}, 18, 18},
		{"25 km/z20", Area{}, orb.MultiPolygon{county()}, 20, 20},
		{"25 km/z22", Area{}, orb.MultiPolygon{county()}, 22, 22},
		{"25 km/z14-22", Area{}, orb.MultiPolygon{county()}, 14, 22},
		{"corridor/z20", strip, quads, 20, 20},
	} {
		if test.area.Empty() {
			test.area = Area{Polygons: test.polygons}
		}
		zooms := tiles.Zooms{Min: test.min, Max: test.max}
		count := func() (n uint64) {
			for _, c := range test.area.Covers(zooms, 0) {
				n += c.Count()
			}
			return n
		}
		list := func() (n uint64) {
			for _, c := range test.area.Covers(zooms, 0) {
				for id := range c.All() {
					n += uint64(id.X^id.Y) | 1 // every tile is looked at
				}
			}
			return n
		}
		b.Run(test.name+"/count", func(b *testing.B) { beside(b, test.polygons, zooms, count) })
		b.Run(test.name+"/list", func(b *testing.B) { beside(b, test.polygons, zooms, list) })
	}
}

// beside measures our way, and orb's cover of one zoom after another in turns
// with it, so that both see the same machine.
func beside(b *testing.B, polygons orb.MultiPolygon, zooms tiles.Zooms, ours func() uint64) {
	var took, theirs []time.Duration
	for began := time.Now(); len(took) < 3 || len(took) < 500 && time.Since(began) < 500*time.Millisecond; {
		start := time.Now()
		for zoom := range zooms.All() {
			if _, err := tilecover.MultiPolygon(polygons, maptile.Zoom(zoom)); err != nil {
				b.Fatal(err)
			}
		}
		theirs = append(theirs, time.Since(start))
		start = time.Now()
		n := ours()
		if took = append(took, time.Since(start)); n == 0 {
			b.Fatal("no tile")
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		ours()
	}
	b.ReportMetric(float64(median(theirs))/float64(median(took)), "x-orb")
}

func median(took []time.Duration) time.Duration {
	slices.Sort(took)
	return took[len(took)/2]
}

// BenchmarkCoverLargest counts about as many tiles as the largest US county has
// at zoom 22 (see TestOutsideLargest), which nothing that lists them could.
func BenchmarkCoverLargest(b *testing.B) {
	a := Area{Polygons: orb.MultiPolygon{star(5, 5000)}}
	n := uint64(0)
	b.ReportAllocs()
	for b.Loop() {
		n = cover(a, 22, 0).Count()
	}
	if n < 1e10 {
		b.Fatal(n)
	}
	b.ReportMetric(float64(n), "tiles")
}

// BenchmarkCoverMargin is a county with a margin of ground, which orb has not.
func BenchmarkCoverMargin(b *testing.B) {
	a := Area{Polygons: orb.MultiPolygon{county()}}
	for _, test := range []struct {
		name   string
		zooms  tiles.Zooms
		margin float64
	}{
		{"15 m/z18", tiles.Zooms{Min: 18, Max: 18}, 15.24},
		{"15 m/z14-22", tiles.Zooms{Min: 14, Max: 22}, 15.24},
		{"1 km/z22", tiles.Zooms{Min: 22, Max: 22}, 1000},
	} {
		b.Run(test.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if len(a.Covers(test.zooms, test.margin)) == 0 {
					b.Fatal("no cover")
				}
			}
		})
	}
}

func BenchmarkOutline(b *testing.B) {
	for _, margin := range []float64{1, 15.24, 500} {
		b.Run(fmt.Sprintf("county/margin %g m", margin), func(b *testing.B) {
			a := Area{Polygons: orb.MultiPolygon{county()}}
			for b.Loop() {
				if len(a.Outline(margin)) == 0 {
					b.Fatal("nothing")
				}
			}
		})
	}
}

func BenchmarkPolygons(b *testing.B) {
	features := one(county())
	for b.Loop() {
		if _, err := Polygons(features); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDistance(b *testing.B) {
	p, q := orb.Point{-105, 40}, orb.Point{-104.999, 40.001}
	for b.Loop() {
		geodesic.Distance(p, q)
	}
}

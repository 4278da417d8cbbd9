package area

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/paulmach/orb/maptile/tilecover"

	"groundsheet/tiles"
)

// county is a polygon 25 km across with 5,000 corners at latitude 40.
func county() orb.Polygon {
	const corners = 5000
	r := rand.New(rand.NewPCG(1, 2))
	var ring orb.Ring
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		d := 0.1126 * (0.85 + 0.1*math.Sin(11*math.Atan2(sin, cos)) + 0.0002*r.Float64())
		ring = append(ring, orb.Point{-105 + d*cos/math.Cos(radians(40)), 40 + d*sin})
	}
	return orb.Polygon{append(ring, ring[0])}
}

func corridor() Area {
	line := orb.LineString{{-105, 40}, {-104.8, 40.1}, {-104.7, 40.05}, {-104.5, 40.2}, {-104.4, 40.2}}
	return Area{Strips: []Strip{{line, 15}}}
}

func BenchmarkCovers(b *testing.B) {
	polygon := county()
	if _, err := Polygons(one(polygon)); err != nil {
		b.Fatal(err)
	}
	for _, test := range []struct {
		name     string
		area     Area
		min, max int
		margin   float64
	}{
		{"county/z18", Area{Polygons: orb.MultiPolygon{polygon}}, 18, 18, 0},
		{"county/z20", Area{Polygons: orb.MultiPolygon{polygon}}, 20, 20, 0},
		{"county/z22", Area{Polygons: orb.MultiPolygon{polygon}}, 22, 22, 0},
		{"county/z14-22", Area{Polygons: orb.MultiPolygon{polygon}}, 14, 22, 0},
		{"county/margin 15 m/z18", Area{Polygons: orb.MultiPolygon{polygon}}, 18, 18, 15.24},
		{"county/margin 15 m/z14-22", Area{Polygons: orb.MultiPolygon{polygon}}, 14, 22, 15.24},
		{"county/margin 1 km/z22", Area{Polygons: orb.MultiPolygon{polygon}}, 22, 22, 1000},
		{"corridor/z20", corridor(), 20, 20, 0},
	} {
		b.Run(test.name, func(b *testing.B) {
			n := uint64(0)
			for b.Loop() {
				n = 0
				for _, c := range test.area.Covers(tiles.Zooms{Min: test.min, Max: test.max}, test.margin) {
					n += c.Count()
				}
			}
			b.ReportMetric(float64(n), "tiles")
		})
	}
}

// BenchmarkOrb is the cover of github.com/paulmach/orb for the same polygon.
func BenchmarkOrb(b *testing.B) {
	polygon := county()
	for _, zoom := range []int{18, 20, 22} {
		b.Run(fmt.Sprintf("county/z%d", zoom), func(b *testing.B) {
			n := 0
			for b.Loop() {
				set, err := tilecover.Geometry(polygon, maptile.Zoom(zoom))
				if err != nil {
					b.Fatal(err)
				}
				n = len(set)
			}
			b.ReportMetric(float64(n), "tiles")
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
		Distance(p, q)
	}
}

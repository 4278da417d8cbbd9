package geodesic

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

func zoneOn(e Ellipsoid, number, north float64) *Transverse {
	return NewTransverse(e, number*6-183, 0.9996, 500_000, north)
}

func TestTransverseInverse(t *testing.T) {
	clarke := Ellipsoid{6378206.4, 1 / 294.978698214}
	grs80 := Ellipsoid{6378137, 1 / 298.257222101}
	tests := []struct {
		name        string
		on          *Transverse
		east, north float64
		lon, lat    float64
		meters      float64
	}{
		// PROJ, test/gie/builtins.gie (on GRS80).
		{"12E 56N", zoneOn(grs80, 32, 0), 687071.43910944, 6210141.32674801, 12, 56, 1e-6},
		// PROJ documentation of utm, rounded to a centimeter.
		{"174E 44S", zoneOn(grs80, 59, 1e7), 740526.32, 5123750.87, 174, -44, 0.01},
		// GeographicLib, input of example-UTMUPS.cpp; output from its library.
		{"38n 444000 3688000", zoneOn(WGS84(), 38, 0), 444000, 3688000, 44.398286386, 33.329699474, 2e-4},
		// GeographicLib, manual of GeoConvert: 38SMB4488.
		{"38n 444500 3688500", zoneOn(WGS84(), 38, 0), 444500, 3688500, 44.40363, 33.33424, 1},
		// Snyder, USGS Professional Paper 1395 (on Clarke 1866), to a decimeter.
		{"40.5N 73.5W", zoneOn(clarke, 18, 0), 627106.5, 4484124.4, -73.5, 40.5, 0.1},
		// The same point by PROJ 9.1.1.
		{"40.5N 73.5W, PROJ", zoneOn(clarke, 18, 0), 627106.467, 4484124.434, -73.5, 40.5, 1e-3},
		// cs2cs of PROJ 9.1.1, EPSG:32613.
		{"near the pole", zoneOn(WGS84(), 13, 0), 500000, 9000000, -105, 81.060880975, 1e-3},
		{"on the origin", zoneOn(WGS84(), 31, 0), 500000, 0, 3, 0, 1e-9},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, ok := test.on.Inverse(orb.Point{test.east, test.north})
			d := math.Hypot((got[0]-test.lon)*111_320*math.Cos(test.lat*math.Pi/180), (got[1]-test.lat)*111_320)
			if !ok || d > test.meters {
				t.Errorf("%v, %v m off; %g m is allowed", got, d, test.meters)
			}
		})
	}
}

func TestTransverseRefuses(t *testing.T) {
	for _, p := range []orb.Point{{-105, 4e9}, {2_000_000, 4e6}, {500_000, 1.1e7}, {math.NaN(), 0}, {500_000, math.NaN()}, {math.Inf(1), 0}} {
		if got, ok := zoneOn(WGS84(), 13, 0).Inverse(p); ok {
			t.Errorf("%v was turned into %v", p, got)
		}
	}
}

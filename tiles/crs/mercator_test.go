package crs

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

func TestFromWebMercator(t *testing.T) {
	tests := []struct {
		name     string
		in       orb.Point
		lon, lat float64
		within   float64
	}{
		// EPSG guidance note 7-2, to a centimeter.
		{"24°22'54.433\"N 100°20'W", orb.Point{-11169055.58, 2800000}, -100.33333333, 24.38178694, 1e-7},
		// PROJ documentation of webmerc, to a centimeter.
		{"2E 49N", orb.Point{222638.98, 6274861.39}, 2, 49, 1e-7},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, ok := fromWebMercator(test.in)
			if !ok || math.Abs(got[0]-test.lon) > test.within || math.Abs(got[1]-test.lat) > test.within {
				t.Errorf("got %v", got)
			}
		})
	}
	for _, p := range []orb.Point{{3e7, 0}, {0, -3e7}, {math.NaN(), 0}, {0, math.NaN()}} {
		if _, ok := fromWebMercator(p); ok {
			t.Errorf("%v is off the world and was taken", p)
		}
	}
}

package geodesic

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// From the geodesic test data of C. F. F. Karney (CC0) and the GeographicLib
// manual.
func TestDistance(t *testing.T) {
	for name, c := range map[string]struct{ lat1, lon1, lat2, lon2, want, by float64 }{
		"76 m":            {19.707097385334, 0, 19.707739582810257, 0.000260256428101053, 76.1478894, 1e-6},
		"249 m":           {23.104245923137, 0, 23.103520430280492, 0.002305237470119087, 249.4508219, 1e-6},
		"397 m":           {78.10174623178, 0, 78.099711031638792, 0.014156770744057927, 397.364659, 1e-6},
		"Flinders Peak":   {-37 - 57.0/60 - 3.7203/3600, 144 + 25.0/60 + 29.5244/3600, -37 - 39.0/60 - 10.1561/3600, 143 + 55.0/60 + 35.3839/3600, 54972.271, 1e-3},
		"across a county": {50.06632, -5.71475, 58.64402, -3.07009, 969954.166, 1e-3},
	} {
		if got := Distance(orb.Point{c.lon1, c.lat1}, orb.Point{c.lon2, c.lat2}); math.Abs(got-c.want) > c.by {
			t.Errorf("%s: %.7f m, want %.7f", name, got, c.want)
		}
	}
}

// A frame agrees with distances on the ellipsoid to a thousandth.
func TestFrame(t *testing.T) {
	for _, lat := range []float64{-45, 0, 25, 40, 60} {
		at := orb.Point{-105, lat}
		f := At(at)
		for _, m := range []orb.Point{{30, 0}, {0, 30}, {-1000, 500}, {3000, -3000}, {7000, 7000}} {
			p := f.Degrees(m)
			want := math.Hypot(m[0], m[1])
			if got := Distance(at, p); math.Abs(got-want) > 1e-3*want {
				t.Errorf("latitude %v, %v: %v m, want %v", lat, m, got, want)
			}
			if back := f.Meters(p); math.Hypot(back[0]-m[0], back[1]-m[1]) > 1e-6 {
				t.Errorf("there and back: %v, want %v", back, m)
			}
		}
	}
}

// What PROJ 9.1.1 (cct -I, EPSG:8970 at 2026.0) makes of numbers on NAD83(2011).
func TestFromNAD83(t *testing.T) {
	for _, c := range []struct{ lon, lat, toLon, toLat float64 }{
		{-105, 40, -105.0000156570, 40.0000047162}, {-75, 40, -75.0000073631, 40.0000095718}, {-122, 37, -122.0000174558, 37.0000015405},
		{-122, 47, -122.0000206911, 47.0000022178}, {-93, 45, -93.0000144107, 45.0000075382}, {-112, 33.5, -112.0000153020, 33.5000027010},
		{-84, 34, -84.0000088412, 34.0000070288}, {-81, 28, -81.0000068174, 28.0000060795}, {-97, 26, -97.0000108370, 26.0000034893},
		{-69, 46, -69.0000067788, 46.0000115103}, {-149.9, 61.2, -149.9000286256, 61.1999962146}, {-66.1, 18.4, -66.1000007298, 18.4000053274},
	} {
		got := FromNAD83(orb.Point{c.lon, c.lat}, 2026)
		if off := Distance(got, orb.Point{c.toLon, c.toLat}); off > 0.0005 {
			t.Errorf("%v, %v: %.4f m off", c.lat, c.lon, off)
		}
		if !OnNAD83(got) {
			t.Errorf("%v, %v is not taken for a place of NAD83(2011)", c.lat, c.lon)
		}
	}
	for name, p := range map[string]orb.Point{"Hawaii": {-157.8, 21.3}, "Guam": {144.8, 13.5}, "Samoa": {-170.7, -14.3}, "Paris": {2.3, 48.9}, "Bogota": {-74, 4.6}} {
		if OnNAD83(p) {
			t.Errorf("%s is taken for a place of NAD83(2011)", name)
		}
	}
}

// East and north in meters as PROJ 9.1.1 gives them for EPSG:8970 at 2026.9.
func TestNAD83Shift(t *testing.T) {
	for _, c := range []struct{ lat, lon, east, north float64 }{
		{40, -105, 1.352, -0.518}, {40, -75, 0.644, -1.068}, {37, -122, 1.566, -0.159}, {47, -122, 1.588, -0.235},
		{45, -93, 1.153, -0.836}, {33.5, -112, 1.434, -0.291}, {34, -84, 0.830, -0.781}, {28, -81, 0.682, -0.677},
	} {
		got := NAD83Shift(orb.Point{c.lon, c.lat}, 2026.9)
		if math.Abs(got.East-c.east) > 0.001 || math.Abs(got.North-c.north) > 0.001 {
			t.Errorf("%v, %v: %+v, want %v %v", c.lat, c.lon, got, c.east, c.north)
		}
	}
}

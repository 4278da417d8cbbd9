package area

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

func dms(d, m, s float64) float64 { return d + m/60 + s/3600 }

func TestDistance(t *testing.T) {
	tests := []struct {
		name     string
		lat1     float64
		lon1     float64
		lat2     float64
		lon2     float64
		want, by float64
	}{
		// Geoscience Australia, Vincenty worked example (GRS 80, 0.1 mm here).
		{"Flinders Peak to Buninyong", -dms(37, 57, 3.72030), dms(144, 25, 29.52440), -dms(37, 39, 10.15610), dms(143, 55, 35.38390), 54972.271, 1e-3},
		// GeographicLib, GeodSolve manual.
		{"JFK to Changi", dms(40, 38, 23), -dms(73, 46, 44), dms(1, 21, 33), dms(103, 59, 22), 15347628, 0.5},
		// GeographicLib, example-Geodesic (values by GeodSolve).
		{"40.6 -73.8 to 51.6 -0.5", 40.6, -73.8, 51.6, -0.5, 5551759.400318679, 1e-3},
		{"Land's End to John o' Groats", 50.06632, -5.71475, 58.64402, -3.07009, 969954.166, 1e-3},
		// Karney's test set of geodesics (GeodTest, CC0).
		{"GeodTest line 1", 36.530042355041, 0, -48.164270779097768864, 5.762344694676510456, 9398502.0434687, 1e-3},
		{"GeodTest 76 m", 19.707097385334, 0, 19.707739582810257, 0.000260256428101053, 76.1478894, 1e-5},
		{"GeodTest 249 m", 23.104245923137, 0, 23.103520430280492, 0.002305237470119087, 249.4508219, 1e-5},
		{"GeodTest 397 m", 78.10174623178, 0, 78.099711031638792, 0.014156770744057927, 397.364659, 1e-5},
		{"geodtest row of geographiclib-geodesic", 35.60777, -139.44815, -11.17491, -69.95921, 8935244.5604818305, 1e-3},
		{"the same, over 180", 55.52454, 106.05087, 77.03196, 197.18234, 4105086.1713924406, 1e-3},
		{"the same, southern", -50.56724, -16.30485, -33.56571, -94.97412, 6455670.5118668696, 1e-3},
		// Calculated with the ellipsoid formulas.
		{"a degree of the equator", 0, 0, 0, 1, 111319.49079327357, 1e-4},
		{"a degree of the meridian", 0, 0, 1, 0, 110574.38855779878, 1e-4},
		{"a quarter of the meridian", 0, 0, 90, 0, 10001965.729312724, 1e-3},
		{"100 ft north", 40, -105, 40.000274508940, -105, 30.48, 1e-6},
		{"100 ft east", 40, -105, 39.999999999450, -104.999643065660, 30.48, 1e-6},
		{"1000 ft east", 40, -105, 39.999999945038, -104.996430656599, 304.8, 1e-6},
		{"nowhere", 40, -105, 40, -105, 0, 0},
		// Half the meridian is 20003931.46 m; the fallback is good to 0.6 %.
		{"opposite", 0, 0, 0.001, 179.999, 20003931, 0.006 * 20003931},
		{"pole to pole", 90, 0, -90, 0, 20003931, 0.006 * 20003931},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p, q := orb.Point{test.lon1, test.lat1}, orb.Point{test.lon2, test.lat2}
			if got := geodesic.Distance(p, q); !(math.Abs(got-test.want) <= test.by) {
				t.Errorf("%.7f m, want %.7f within %g", got, test.want, test.by)
			}
			if there, back := geodesic.Distance(p, q), geodesic.Distance(q, p); math.Abs(there-back) > 1e-6 {
				t.Errorf("%.9f m there, %.9f back", there, back)
			}
		})
	}
}

// TestEllipse walks round the projected disc and measures it on the ground.
func TestEllipse(t *testing.T) {
	for _, lat := range []float64{0, 25, 40, 49, 60, -70} {
		for _, radius := range []float64{0.3, 15.24, 1000, MaxReach} {
			p := orb.Point{-105, lat}
			e := ellipseAt(p, radius)
			for i := range 72 {
				sin, cos := math.Sincos(float64(i) * math.Pi / 36)
				lon, lat2 := tiles.Unproject(e.x+e.a*cos, e.y+e.b*sin)
				// Degrees keep about a nanometer here; 1e-7 m covers the projection.
				if got := geodesic.Distance(p, orb.Point{lon, lat2}); math.Abs(got-radius) > 0.001*radius+1e-7 {
					t.Fatalf("latitude %v, %v m, direction %d: %v m on the ground", lat, radius, i*5, got)
				}
			}
		}
	}
}

func TestSquareMeters(t *testing.T) {
	quad := func(p ...orb.Point) Area { return Area{Polygons: orb.MultiPolygon{{append(p, p[0])}}} }
	box := func(w, s, e, n float64) orb.Ring { return orb.Ring{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}} }
	lon1km := 1000 / 111319.49079327357
	tests := []struct {
		name     string
		area     Area
		want, by float64
	}{
		// GeographicLib, Planimeter test; its edges are geodesics, which near
		// the equator differ from straight ones by less than a ten-thousandth.
		{"diamond on the equator", quad(orb.Point{-1, 0}, orb.Point{0, 1}, orb.Point{1, 0}, orb.Point{0, -1}), 24619419146, 2e6},
		// GeographicLib, example-PolygonArea: 1000 m edges from 0, 0.
		{"a square kilometre", quad(orb.Point{0, 0}, orb.Point{lon1km, 0}, orb.Point{lon1km, 1000 / 110574.27582}, orb.Point{0, 1000 / 110574.27582}), 1e6, 2},
		// WGS 84 surface 510065621724089 m² (calculated from the defining constants).
		{"half the world", Area{Polygons: orb.MultiPolygon{{box(-180, -90, 0, 90)}}}, 510065621724089 / 2, 1e9},
		{"winding does not matter", quad(orb.Point{0, -1}, orb.Point{1, 0}, orb.Point{0, 1}, orb.Point{-1, 0}), 24619419146, 2e6},
		// One degree at latitude 40: 111034.63 m by 85393.86 m, calculated.
		{"a millionth of a degree at 40", Area{Polygons: orb.MultiPolygon{{box(-105, 39.9999995, -104.999999, 40.0000005)}}}, 0.11103463 * 0.08539386, 1e-7},
		{"a hole is taken off", Area{Polygons: orb.MultiPolygon{{box(0, 0, 0.01, 0.01), box(0.002, 0.002, 0.007, 0.007)}}}, 0.75 * 1113.1949 * 1105.7428, 10},
		{"strip", Area{Strips: []Strip{{orb.LineString{{-105, 40}, {-105, 40.00027450894}}, 5}}}, 30.48*10 + math.Pi*25, 1e-4},
		{"disc", Area{Discs: []Disc{{orb.Point{-105, 40}, 100}}}, math.Pi * 1e4, 1e-6},
		{"nothing", Area{}, 0, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if got := test.area.SquareMeters(); math.Abs(got-test.want) > test.by {
				t.Errorf("%v m², want %v within %v", got, test.want, test.by)
			}
		})
	}
}

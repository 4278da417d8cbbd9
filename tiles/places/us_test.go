package places

import "testing"

func TestMeantInUS(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon float64
		want     [2]float64
		ok       bool
	}{
		{"Idaho", 43.2, -112.1, [2]float64{}, false},
		{"Idaho without the minus", 43.2, 112.1, [2]float64{43.2, -112.1}, true},
		{"longitude first", -112.1, 43.2, [2]float64{43.2, -112.1}, true},
		{"longitude first, without the minus", 112.1, 43.2, [2]float64{43.2, -112.1}, true},
		{"Philadelphia, longitude first", -75.1, 40, [2]float64{40, -75.1}, true},
		{"latitude with a minus", -43.2, -112.1, [2]float64{43.2, -112.1}, true},
		{"Anchorage", 61.2, 149.9, [2]float64{61.2, -149.9}, true},
		{"Attu", 52.9, 173, [2]float64{}, false},
		{"Honolulu", 21.3, 157.9, [2]float64{21.3, -157.9}, true},
		{"San Juan", 18.4, 66.1, [2]float64{18.4, -66.1}, true},
		{"Guam", 13.5, 144.8, [2]float64{}, false},
		{"the invented town", 40.5, -140.5, [2]float64{}, false},
		{"London", 51.5, -0.1, [2]float64{}, false},
		{"Sydney", -33.9, 151.2, [2]float64{}, false},
	} {
		lat, lon, ok := MeantInUS(c.lat, c.lon)
		if ok != c.ok || ok && [2]float64{lat, lon} != c.want {
			t.Errorf("%s: %v %v %v, want %v %v", c.name, lat, lon, ok, c.want, c.ok)
		}
	}
}

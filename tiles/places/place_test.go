package places

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// The table of the map page (serve/web/test/plain-coordinates.mjs): what it
// takes is taken here too, but for an order that only the size of a number says.
func TestParseAsThePage(t *testing.T) {
	const there = "40.01234 -105.01234"
	for typed, want := range map[string]string{
		"40.01234, -105.01234": there, "  40.01234   -105.01234 ": there, "40.01234,-105.01234": there,
		"40.01234N 105.01234W": there, "N40.01234 W105.01234": there, "n 40.01234, w 105.01234": there,
		"lat 40.01234 lon -105.01234": there, "Longitude: -105.01234, Latitude: 40.01234": there,
		"40.01234° north, 105.01234° west": there, "105.01234 W 40.01234 N": there,
		"40.01234, −105.01234": there, "40,01234 -105,01234": there, "40,01234; -105,01234": there,
		"geo:40.01234,-105.01234": there, "40.01234/-105.01234": there,
		"40° 0.7404' N, 105° 0.7404' W": there, "40 0.7404 -105 0.7404": there, "40d0.7404m N 105d0.7404m W": there,
		"40°00′44.424″N 105°00′44.424″W": there, `40°0'44.424"N105°0'44.424"W`: there, "40°0'44.424''N 105°0'44.424''W": there,
		"40:0:44.424N 105:0:44.424W": there, "40-00-44.424N 105-00-44.424W": there, "40 0 44.424 -105 0 44.424": there,
		"40 deg 0 min 44.424 sec N, 105 deg 0 min 44.424 sec W": there, "-0 30 0 -0 30 0": "-0.50000 -0.50000",
		"40° -105°": "40.00000 -105.00000", "43 12 00 N 112 06 00 W": "43.20000 -112.10000",
		"01:21:33N 103:59:22E": "1.35917 103.98944", // GeodSolve manual: Changi
		// GeographicLib, GeoConvert manual: 38SMB4488 is 33.33424 44.40363, and UTM 38n 444500 3688500.
		"38SMB4488": "33.33424 44.40363", "38s mb 44 88": "33.33424 44.40363", "MGRS: 38SMB4488": "33.33424 44.40363",
		"38n 444500 3688500": "33.33424 44.40363", "38 north 444500mE 3688500mN": "33.33424 44.40363",
		"444,500 3,688,500 zone 38 N": "33.33424 44.40363", "3688500N 444500E 38N": "33.33424 44.40363",
	} {
		lat, lon, err := Parse(typed)
		if got := fmt.Sprintf("%.5f %.5f", lat, lon); err != nil || got != want {
			t.Errorf("%q: %s %v, want %s", typed, got, err, want)
		}
	}
}

// GeoConvert -g -p 4 of GeographicLib, to a centimeter; of MGRS the middle of
// the square, as it gives it.
func TestParseAgainstGeoConvert(t *testing.T) {
	for typed, want := range map[string][2]float64{
		"13N 498945 4429136":      {40.012421875, -105.012361703},
		"13TDE9894529136":         {40.012426380, -105.012355845},
		"38SMB4488":               {33.334235085, 44.403627848},
		"55 south 499000 6100000": {-35.243077213, 146.989008691},
		"55H 499000 6100000":      {-35.243077213, 146.989008691},
		"33XWG0000000000":         {77.476972053, 15.000020657},
	} {
		lat, lon, err := Parse(typed)
		if off := math.Hypot(lat-want[0], (lon-want[1])*math.Cos(lat*math.Pi/180)) * 111_320; err != nil || off > 0.01 {
			t.Errorf("%q: %.9f %.9f, %.3f m off, %v", typed, lat, lon, off, err)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for typed, want := range map[string]string{
		"": "want a latitude", "40": "want a latitude", "a,b": "was not understood", "NaN,0": "was not understood", "1234 Main St, Boise": "was not understood",
		"40.1 Q 105.2": "“Q”", "40, -105, 1600": "want a latitude", "40N 41N": "the same", "40 60 -105 0": "less than 60",
		"40.5 30 -105 30": "Only the last", "40N -105W": "say it twice", "40,1,105,2": "point",
		"38SMB448": "two halves", "61SMB4488": "not 61", "38SAB4488": "no column A", "38SMM4488": "no row M",
		"38N 4445 3688500": "an easting lies between", "38I 444500 3688500": "no band I", "38S 444500 3688500": "NORTH or SOUTH",
		"38N 444500 9900000": "beyond where UTM ends",
	} {
		lat, lon, err := Parse(typed)
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), strings.ToLower(want)) {
			t.Errorf("%q: %v %v, %v, want %q", typed, lat, lon, err, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"40.01234N 105.01234W", "13TDE9894529136", "13N 498945 4429136", `40°0'44"N`, "-,;/", "geo:1,2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if lat, lon, err := Parse(s); err == nil && (math.IsNaN(lat) || math.IsNaN(lon)) {
			t.Errorf("%q: %v %v", s, lat, lon)
		}
	})
}

package crs

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
)

// What PROJ 9.1.1 (cs2cs from the system's own degrees) gives for places in zones
// of each kind: two Lamberts and both feet, transverse, Hotine A and B, Albers.
func TestPublishedPlaces(t *testing.T) {
	for _, c := range []struct {
		code                  int
		lat, lon, east, north float64
	}{
		{2231, 40.0123, -105.2456, 3071258.12132, 1247429.61754},
		{2222, 33.5, -110.2, 689838.88304, 909451.94364},
		{26931, 57.2, -134.1, 792486.31209, 597450.95234},
		{26953, 40.5, -106, 872019.60067, 434457.45992},
		{3078, 44.1, -85.3, 555871.25093, 394525.83077},
		{6811, 45.9, -123.1, 526706.52034, 603104.34871},
		{3424, 40.2, -74.6, 464193.39784, 497782.12057},
		{26913, 39.9, -104.7, 525645.24684, 4416701.35935},
		{32613, 39.9, -104.7, 525645.24684, 4416701.35946},
		{2154, 46.2, 2.4, 653733.44093, 6566859.79664},
		{3006, 59.3, 18.1, 676509.22724, 6577565.31714},
		{2193, -41.3, 174.8, 1750697.52133, 5426376.62317},
		{7855, -37.8, 145, 323920.55068, 5814491.01878},
		{25832, 50.1, 8.7, 478544.52380, 5549792.34837},
		{2180, 52.2, 21, 636640.46701, 483432.20083},
		{6559, 44.5, -121.5, 7941192.50461, 305428.32181},
		{3310, 37.1, -120.2, -17750.63788, -101848.15095},
		{32161, 18.4, -66.1, 235221.12823, 262751.70748},
		{2992, 44, -123, 654727.95652, 830160.95382},
	} {
		s, err := ByCode(c.code)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := s.ToDegrees(orb.Point{c.east, c.north})
		if off := geodesic.Distance(got, orb.Point{c.lon, c.lat}); !ok || off > 1e-3 {
			t.Errorf("%s: %v, %.4f m off", s.Text(), got, off)
		}
		to, ok := s.FromDegrees(orb.Point{c.lon, c.lat})
		if off := math.Hypot(to[0]-c.east, to[1]-c.north); !ok || off*s.Unit.Meters > 1e-3 {
			t.Errorf("%s: to %v, %.4f m off", s.Text(), to, off)
		}
	}
}

func TestTable(t *testing.T) {
	all, err := readTable(table)
	if err != nil || len(all) < 2000 {
		t.Fatalf("%d systems, %v", len(all), err)
	}
	for _, s := range all {
		if _, known := findDatum(s.Datum); !known || s.Name == "" || !s.Degrees() && s.Unit.Meters == 0 {
			t.Errorf("%+v", s)
		}
	}
}

func TestRefusedByCode(t *testing.T) {
	for text, want := range map[string]string{
		"32054": "NAD27", "EPSG:4267": "NAD27", "27700": "within a few meters", "102653": "ESRI", "Colorado North": "no number", "ESRI:2231": "no number", "0": "within",
	} {
		_, err := Stated(text)
		var f *fault.Fault
		if !errors.As(err, &f) || f.Kind != RuleSystem || !strings.Contains(f.Detail, want) || f.Remedy == "" {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// The two feet of one zone are siblings, and numbers of one are not near in the other's place.
func TestFeetAreToldApart(t *testing.T) {
	meters, err := Stated("epsg:26953")
	if err != nil {
		t.Fatal(err)
	}
	if all := meters.Siblings(); len(all) != 1 || all[0].Code != 2231 || all[0].Unit.Name != "us survey ft" {
		t.Errorf("siblings %+v", all)
	}
	feet, _ := ByCode(2222) // Arizona East, international feet
	if feet.Unit.Name != "ft" || feet.Unit.Meters != 0.3048 {
		t.Errorf("unit %+v", feet.Unit)
	}
	fits := Fitting([]orb.Point{{3_000_000, 1_250_000}, {3_001_000, 1_251_000}}, orb.Point{-105.5, 40.02}, 30_000)
	if len(fits) == 0 {
		t.Fatal("no system fits")
	}
	for _, f := range fits {
		if f.System.Unit.Name != "us survey ft" || !strings.Contains(f.System.Name, "Colorado North") {
			t.Errorf("%s fits, %.0f m away", f.System.Text(), f.Away)
		}
	}
}

func TestAt(t *testing.T) {
	var names []string
	for _, s := range At(orb.Point{-105, 40}) {
		names = append(names, s.Name)
	}
	all := strings.Join(names, "; ")
	for _, want := range []string{"NAD83 / Colorado North (ftUS)", "NAD83(2011) / Colorado North", "NAD83 / UTM zone 13N", "WGS 84 / UTM zone 13N"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %s in %s", want, all)
		}
	}
	if strings.Contains(all, "Colorado South") || strings.Index(all, "Colorado North") > strings.Index(all, "UTM") {
		t.Errorf("order or ground: %s", all)
	}
}

// Numbers that lie nowhere are not turned into places.
func TestNowhere(t *testing.T) {
	for _, s := range systems() {
		s = s.complete()
		for _, p := range []orb.Point{{math.NaN(), 0}, {math.Inf(1), 1}, {1e300, -1e300}, {0, 1e9}, {-3e7, 3e7}} {
			if q, ok := s.ToDegrees(p); ok && !(math.Abs(q[0]) <= 180 && math.Abs(q[1]) <= 90) {
				t.Errorf("%s: %v is at %v", s.Text(), p, q)
			}
		}
	}
}

// TestFromDegreesRefuses: no number stands for a place that lies nowhere.
func TestFromDegreesRefuses(t *testing.T) {
	zone, _ := ByCode(32613)
	for _, p := range []orb.Point{{math.NaN(), 40}, {-105, math.NaN()}, {-105, 91}, {181, 0}, {75, 40}, {-90, 0}} {
		if got, ok := zone.FromDegrees(p); ok {
			t.Errorf("%v was turned into %v", p, got)
		}
	}
}

// TestWKTIsReadBack reads the text of every system of the table as the same system.
func TestWKTIsReadBack(t *testing.T) {
	for _, s := range systems() {
		got, _, err := ByWKT(s.WKT())
		if err != nil {
			t.Errorf("%s: %v\n%s", s.Text(), err, s.WKT())
		} else if !got.Same(s) {
			t.Errorf("%s is read as %+v\n%s", s.Text(), got, s.WKT())
		}
	}
}

//go:build outside

package geodesic

import (
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// TestOutsideDistance asks GeodSolve of GeographicLib (Debian's
// geographiclib-tools).
func TestOutsideDistance(t *testing.T) {
	var in strings.Builder
	var pairs [][2]orb.Point
	for lat := -80.0; lat <= 80; lat += 7 {
		for i, d := range []float64{1e-7, 1e-5, 0.001, 0.1, 1} {
			a := orb.Point{-105, lat}
			b := orb.Point{-105 + d, lat + d*float64(i-2)/2}
			pairs = append(pairs, [2]orb.Point{a, b})
			fmt.Fprintf(&in, "%.15f %.15f %.15f %.15f\n", a[1], a[0], b[1], b[0])
		}
	}
	c := exec.Command("GeodSolve", "-i", "-p", "7")
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	worst, r := 0.0, strings.NewReader(string(out))
	for _, p := range pairs {
		var a, b, want float64
		if _, err := fmt.Fscan(r, &a, &b, &want); err != nil {
			t.Fatal(err)
		}
		worst = max(worst, math.Abs(Distance(p[0], p[1])-want))
	}
	t.Logf("%d distances, %.3g m off at most", len(pairs), worst)
	if worst > 1e-3 {
		t.Errorf("%v m off", worst)
	}
}

// TestOutsideNAD83Shift runs the transformation of EPSG:8970 in PROJ, both ways.
func TestOutsideNAD83Shift(t *testing.T) {
	const year = 2026.9
	var places []orb.Point
	for lat := 26.0; lat < 50; lat += 3 {
		for lon := -123.0; lon < -70; lon += 5 {
			places = append(places, orb.Point{lon, lat})
		}
	}
	places = append(places, orb.Point{-149.9, 61.2}, orb.Point{-165.4, 64.5}, orb.Point{-156.8, 71.3}, orb.Point{-66.1, 18.4}, orb.Point{-64.9, 17.7})
	worst := 0.0
	for i, p := range transformed(t, places, year) {
		want, got := At(places[i]).Meters(p), NAD83Shift(places[i], year)
		worst = max(worst, math.Hypot(got.East-want[0], got.North-want[1]))
	}
	t.Logf("%d places, %.3g m off at most", len(places), worst)
	if worst > 1e-3 {
		t.Errorf("%v m off", worst)
	}
	for _, epoch := range []float64{2010, 2026, 2040.5} {
		worst = 0
		for i, p := range transformed(t, places, epoch, "-I") {
			worst = max(worst, Distance(p, FromNAD83(places[i], epoch)))
		}
		t.Logf("back at %v: %d places, %.3g m off at most", epoch, len(places), worst)
		if worst > 2e-3 {
			t.Errorf("%v m off", worst)
		}
	}
}

// TestOutsideFromNAD83 lets PROJ's cs2cs choose the transformation from its own
// copy of the EPSG registry.
func TestOutsideFromNAD83(t *testing.T) {
	places := []orb.Point{
		{-105, 40}, {-75, 40}, {-122, 37}, {-122, 47}, {-93, 45}, {-112, 33.5}, {-84, 34}, {-81, 28}, {-97, 26}, {-69, 46}, {-149.9, 61.2}, {-66.1, 18.4},
	}
	for _, epoch := range []float64{2010, 2026, 2030.5} {
		var in strings.Builder
		for _, p := range places {
			fmt.Fprintf(&in, "%v %v 0 %v\n", p[1], p[0], epoch)
		}
		c := exec.Command("cs2cs", "-d", "12", "NAD83(2011)", "ITRF2014")
		c.Stdin = strings.NewReader(in.String())
		out, err := c.Output()
		if err != nil {
			t.Fatal(err)
		}
		worst, r := 0.0, strings.NewReader(string(out))
		for _, p := range places {
			var lat, lon, height float64
			var when string
			if _, err := fmt.Fscan(r, &lat, &lon, &height, &when); err != nil {
				t.Fatal(err, string(out[:min(len(out), 200)]))
			}
			worst = max(worst, Distance(orb.Point{lon, lat}, FromNAD83(p, epoch)))
		}
		t.Logf("%v: %d places, %.3g m off at most", epoch, len(places), worst)
		if worst > 2e-3 {
			t.Errorf("%v m off", worst)
		}
	}
}

// transformed gives places as PROJ's cct makes them on NAD83(2011), or with -I
// on ITRF2014.
func transformed(t *testing.T, places []orb.Point, year float64, options ...string) []orb.Point {
	t.Helper()
	var in strings.Builder
	for _, p := range places {
		fmt.Fprintf(&in, "%v %v 0 %v\n", p[0], p[1], year)
	}
	c := exec.Command("cct", append(options, "-d", "12", "+proj=pipeline", "+step", "+proj=unitconvert", "+xy_in=deg", "+xy_out=rad", "+step", "+proj=cart", "+ellps=GRS80",
		"+step", "+proj=helmert", "+x=1.0053", "+y=-1.90921", "+z=-0.54157", "+rx=0.02678138", "+ry=-0.00042027", "+rz=0.01093206", "+s=0.00036891",
		"+dx=0.00079", "+dy=-0.0006", "+dz=-0.00144", "+drx=0.00006667", "+dry=-0.00075744", "+drz=-0.00005133", "+ds=-0.00007201",
		"+t_epoch=2010", "+convention=coordinate_frame", "+step", "+inv", "+proj=cart", "+ellps=GRS80", "+step", "+proj=unitconvert", "+xy_in=rad", "+xy_out=deg")...)
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []orb.Point
	r := strings.NewReader(string(out))
	for range places {
		var lon, lat, height float64
		var when string
		if _, err := fmt.Fscan(r, &lon, &lat, &height, &when); err != nil {
			t.Fatal(err, string(out[:min(len(out), 200)]))
		}
		all = append(all, orb.Point{lon, lat})
	}
	return all
}

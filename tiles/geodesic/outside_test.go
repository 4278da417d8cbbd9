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

// TestOutsideNAD83Shift runs the transformation of EPSG:8970 in PROJ.
func TestOutsideNAD83Shift(t *testing.T) {
	const year = 2026.9
	var in strings.Builder
	var places []orb.Point
	for lat := 26.0; lat < 50; lat += 3 {
		for lon := -123.0; lon < -70; lon += 5 {
			places = append(places, orb.Point{lon, lat})
			fmt.Fprintf(&in, "%v %v 0 %v\n", lon, lat, year)
		}
	}
	c := exec.Command("cct", "-d", "12", "+proj=pipeline", "+step", "+proj=unitconvert", "+xy_in=deg", "+xy_out=rad", "+step", "+proj=cart", "+ellps=GRS80",
		"+step", "+proj=helmert", "+x=1.0053", "+y=-1.90921", "+z=-0.54157", "+rx=0.02678138", "+ry=-0.00042027", "+rz=0.01093206", "+s=0.00036891",
		"+dx=0.00079", "+dy=-0.0006", "+dz=-0.00144", "+drx=0.00006667", "+dry=-0.00075744", "+drz=-0.00005133", "+ds=-0.00007201",
		"+t_epoch=2010", "+convention=coordinate_frame", "+step", "+inv", "+proj=cart", "+ellps=GRS80", "+step", "+proj=unitconvert", "+xy_in=rad", "+xy_out=deg")
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	worst, r := 0.0, strings.NewReader(string(out))
	for _, p := range places {
		var lon, lat, height float64
		var when string
		if _, err := fmt.Fscan(r, &lon, &lat, &height, &when); err != nil {
			t.Fatal(err, string(out[:200]))
		}
		want, got := At(p).Metres(orb.Point{lon, lat}), NAD83Shift(p, year)
		worst = max(worst, math.Hypot(got.East-want[0], got.North-want[1]))
	}
	t.Logf("%d places, %.3g m off at most", len(places), worst)
	if worst > 1e-3 {
		t.Errorf("%v m off", worst)
	}
}

//go:build outside

package crs

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/sqlite"
)

// TestOutsideEverySystem has PROJ's cs2cs project 100 places in the use of every
// system of the table, turns what it gives back into degrees, and projects the same
// places.
func TestOutsideEverySystem(t *testing.T) {
	worst, count := map[string]float64{}, map[string]int{}
	var mutex sync.Mutex
	var group sync.WaitGroup
	slots := make(chan bool, 4)
	for _, s := range systems() {
		if s.Degrees() {
			continue
		}
		slots <- true
		group.Go(func() {
			defer func() { <-slots }()
			off, err := farthest(s.complete())
			if err != nil || off > 1e-3 {
				t.Errorf("%s: %.4f m off, %v", s.Text(), off, err)
			}
			mutex.Lock()
			defer mutex.Unlock()
			family := kindOf(s)
			worst[family], count[family] = max(worst[family], off), count[family]+1
		})
	}
	group.Wait()
	for _, family := range slices.Sorted(maps.Keys(worst)) {
		t.Logf("%-42s %4d systems, %.3g m off at most", family, count[family], worst[family])
	}
}

// farthest is how far a system is off at most.
func farthest(s System) (off float64, err error) {
	places := inUse(s, 100)
	projected, err := forward(s, places)
	for i, p := range projected {
		got, ok := s.ToDegrees(p)
		if !ok {
			return off, fmt.Errorf("%v at %v is refused", p, places[i])
		}
		to, ok := s.FromDegrees(places[i])
		if !ok {
			return off, fmt.Errorf("%v is refused", places[i])
		}
		off = max(off, geodesic.Distance(got, places[i]), math.Hypot(to[0]-p[0], to[1]-p[1])*s.Unit.Meters)
	}
	return off, err
}

// kindOf names the families that are reported.
func kindOf(s System) string {
	switch {
	case strings.Contains(s.Name, "UTM"):
		return "UTM"
	case strings.HasPrefix(s.Datum, "NAD83") && !strings.HasPrefix(s.Datum, "NAD83(CSRS)"):
		return fmt.Sprintf("%s by method %d in %s", s.Datum, s.definition.method, s.Unit.Name)
	}
	return "others by method " + fmt.Sprint(int(s.definition.method))
}

// inUse gives random places in the use of a system.
func inUse(s System, n int) (all []orb.Point) {
	r := rand.New(rand.NewPCG(uint64(s.Code), 1))
	width := s.Use.East - s.Use.West
	if width < 0 {
		width += 360
	}
	west := s.Use.West
	if s.definition.method == transverse { // the use may be a country of which the zone is a part
		west, width = max(west, s.definition.numbers[1]-4), min(width, 8)
	}
	for range n {
		lat := s.Use.South + r.Float64()*(s.Use.North-s.Use.South)
		all = append(all, orb.Point{math.Remainder(west+r.Float64()*width, 360), lat})
	}
	return all
}

// forward asks cs2cs, from the degrees of the system's own datum.
func forward(s System, places []orb.Point) ([]orb.Point, error) {
	base := 0
	for _, g := range systems() {
		if g.Degrees() && g.Datum == s.Datum {
			base = max(base, g.Code)
		}
	}
	var in strings.Builder
	for _, p := range places {
		fmt.Fprintf(&in, "%.12f %.12f 0\n", p[1], p[0])
	}
	c := exec.Command("cs2cs", "-f", "%.9f", fmt.Sprintf("EPSG:%d", base), fmt.Sprintf("EPSG:%d", s.Code))
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		return nil, err
	}
	r := bytes.NewReader(out)
	var all []orb.Point
	for range places {
		var x, y, z float64
		if _, err := fmt.Fscan(r, &x, &y, &z); err != nil {
			return nil, fmt.Errorf("%w of %.200s", err, out)
		}
		if northFirst()[s.Code] {
			x, y = y, x
		}
		all = append(all, orb.Point{x, y})
	}
	return all, nil
}

// northFirst says of which systems PROJ gives the northing first, by the order of
// axes in the registry. Files have the easting first all the same.
var northFirst = sync.OnceValue(func() map[int]bool {
	db := sqlite.Open(projDatabase(), sqlite.Options{Settings: "mode=ro"})
	defer db.Close()
	rows, err := db.Query(`SELECT p.code FROM projected_crs p JOIN axis a ON a.coordinate_system_auth_name = p.coordinate_system_auth_name
		AND a.coordinate_system_code = p.coordinate_system_code WHERE p.auth_name = 'EPSG' AND a.coordinate_system_order = 1 AND a.orientation = 'north'`)
	if err != nil {
		return nil
	}
	defer rows.Close()
	all := map[int]bool{}
	for rows.Next() {
		code := 0
		if rows.Scan(&code) == nil {
			all[code] = true
		}
	}
	return all
})

// TestOutsideWKT reads the text that PROJ writes of the systems, in three kinds.
func TestOutsideWKT(t *testing.T) {
	var group sync.WaitGroup
	slots := make(chan bool, 4)
	for i, s := range systems() {
		if state := s.Datum == "NAD83" || s.Datum == "NAD83(2011)"; !state && i%7 != 0 {
			continue
		}
		slots <- true
		group.Go(func() {
			defer func() { <-slots }()
			for _, kind := range []string{"WKT1_GDAL", "WKT1_ESRI", "WKT2:2019"} {
				out, err := exec.Command("projinfo", "-q", "-o", kind, "--single-line", fmt.Sprintf("EPSG:%d", s.Code)).Output()
				if len(bytes.TrimSpace(out)) == 0 {
					continue // this kind has no words for it: EPSG's three-dimensional degrees
				}
				got, _, wrong := ByWKT(string(out))
				if err != nil || wrong != nil {
					t.Errorf("%s as %s: %v %v\n%s", s.Text(), kind, err, wrong, out)
					continue
				}
				if got.Datum != s.Datum || got.Unit != s.Unit || !got.definition.like(s.definition, 1e-4) {
					t.Errorf("%s as %s is %+v", s.Text(), kind, got)
				}
				if !s.Degrees() && got.Name != s.Name {
					t.Logf("%s as %s is taken for %s", s.Text(), kind, got.Text())
				}
			}
		})
	}
	group.Wait()
}

// TestOutsideWKTWritten has PROJ find systems by the text that is written of them: the
// same one, or one with the same numbers.
func TestOutsideWKTWritten(t *testing.T) {
	number := regexp.MustCompile(`EPSG:(\d+): 100 %`)
	for i, s := range systems() {
		if state := s.Datum == "NAD83" || s.Datum == "NAD83(2011)"; s.Degrees() || !state && i%20 != 0 || i%5 != 0 {
			continue
		}
		out, err := exec.Command("projinfo", "--identify", s.WKT()).Output()
		found := false
		for _, m := range number.FindAllStringSubmatch(string(out), -1) {
			code, _ := strconv.Atoi(m[1])
			like, known := find(code)
			found = found || known && like.Same(s)
		}
		if err != nil || !found {
			t.Errorf("%s: %v %q\n%s", s.Text(), err, number.FindAllString(string(out), -1), s.WKT())
		}
	}
}

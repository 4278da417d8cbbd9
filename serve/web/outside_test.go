//go:build outside

package web

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"
)

// run returns the lines that a program prints for lines of input.
func run(t *testing.T, lines []string, name string, args ...string) []string {
	t.Helper()
	c := exec.CommandContext(t.Context(), name, args...)
	c.Stdin = strings.NewReader(strings.Join(lines, "\n") + "\n")
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	all := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(all) != len(lines) {
		t.Fatalf("%s answered %d lines to %d", name, len(all), len(lines))
	}
	return all
}

// places cover the range of UTM, including zones that are not six degrees wide.
func places(n int) []string {
	r := rand.New(rand.NewPCG(6, 22)) //nolint:gosec // the same places in every run
	all := []string{"0 0", "-0.000001 0", "83.9999 10", "-79.9999 -10", "60 3", "60 2.999999", "63.999999 5", "75 9", "75 21", "75 33", "75 41.9", "72 8.999"}
	for range n {
		all = append(all, fmt.Sprintf("%.7f %.7f", r.Float64()*163.9-79.95, r.Float64()*360-180))
	}
	return all
}

// TestOutsideCoordinates compares UTM and MGRS of the page with GeoConvert
// (GeographicLib): equal zones and letters, meters to a millimeter; a reference
// within a millimeter of the next square may be the neighbor's.
func TestOutsideCoordinates(t *testing.T) {
	all := places(5000)
	ours := run(t, all, "node", "test/convert.mjs")
	utm := run(t, all, "GeoConvert", "-u", "-p", "4")
	mgrs := run(t, all, "GeoConvert", "-m", "-p", "0")
	for i, line := range ours {
		var zone, grid, wantZone string
		var e, n, wantE, wantN float64
		if _, err := fmt.Sscan(line, &zone, &e, &n, &grid); err != nil {
			t.Fatalf("%s: %q: %v", all[i], line, err)
		}
		if _, err := fmt.Sscan(strings.TrimPrefix(utm[i], "0"), &wantZone, &wantE, &wantN); err != nil {
			t.Fatalf("%s: %q: %v", all[i], utm[i], err)
		}
		if zone != wantZone || math.Abs(e-wantE) > 0.001 || math.Abs(n-wantN) > 0.001 {
			t.Errorf("%s: %s %.4f %.4f, GeoConvert %s", all[i], zone, e, n, utm[i])
		}
		edge := math.Min(fromWhole(wantE), fromWhole(wantN)) < 0.001
		if grid != strings.TrimPrefix(mgrs[i], "0") && !edge {
			t.Errorf("%s: %s, GeoConvert %s", all[i], grid, mgrs[i])
		}
	}
}

func fromWhole(v float64) float64 { return math.Abs(v - math.Round(v)) }

// TestOutsideTyped compares parsed coordinates with GeoConvert: MGRS of every
// precision, UTM, degrees minutes seconds, to a hundred-millionth of a degree.
func TestOutsideTyped(t *testing.T) {
	var typed []string
	for i, p := range places(600) {
		for _, args := range [][]string{{"-m", "-p", fmt.Sprint(i%6 - 5)}, {"-u", "-p", "3"}, {"-d", "-p", "3"}} {
			if i%3 == len(args)%3 || i < 100 {
				typed = append(typed, run(t, []string{p}, "GeoConvert", args...)...)
			}
		}
	}
	ours := run(t, typed, "node", "test/convert.mjs", "-read")
	want := run(t, typed, "GeoConvert", "-g", "-p", "4")
	for i := range typed {
		var wantLat, wantLon float64
		if _, err := fmt.Sscan(want[i], &wantLat, &wantLon); err != nil {
			t.Fatalf("%s: %q", typed[i], want[i])
		}
		found := false // "s" is south, and a band in the north: the page offers both
		for reading := range strings.SplitSeq(ours[i], " | ") {
			var lat, lon float64
			_, err := fmt.Sscan(reading, &lat, &lon)
			found = found || err == nil && math.Abs(lat-wantLat) <= 1e-8 && math.Abs(math.Remainder(lon-wantLon, 360)) <= 1e-7
		}
		if !found {
			t.Errorf("%s: %s, GeoConvert %s", typed[i], ours[i], want[i])
		}
	}
}

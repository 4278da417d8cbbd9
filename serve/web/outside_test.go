//go:build outside

package web

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
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

// TestOutsideTapes compares tapes, cuts and swings with GeodSolve (GeographicLib), stations and
// offsets with PROJ's geod: the foot must see the point square to the line, at the offset, and lie
// at the station. Of lines up to 180 m and
// points up to 6 km away, to a tenth of a millimeter.
func TestOutsideTapes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 11)) //nolint:gosec // the same places in every run
	var swings, stations, laid, square, stationed, tapes []string
	for i := range 400 {
		at := fmt.Sprintf("%.9f %.9f", r.Float64()*140-70, r.Float64()*360-180)
		one, two := r.Float64()*360, 15+r.Float64()*150
		ends := run(t, []string{
			fmt.Sprintf("%s %.6f %.6f", at, one, 2+r.Float64()*90),
			fmt.Sprintf("%s %.6f %.6f", at, one+two, 2+r.Float64()*90),
			fmt.Sprintf("%s %.6f %.6f", at, r.Float64()*360, float64(i%2)*6000),
		}, "GeodSolve", "-p", "7")
		a, b := strings.Fields(ends[0]), strings.Fields(ends[1])
		swings = append(swings, fmt.Sprintf("swing %s %s %s %s %s", a[0], a[1], b[0], b[1], at))
		far := strings.Fields(ends[2])
		stations = append(stations, fmt.Sprintf("station %s %s %s %s %s %s", a[0], a[1], b[0], b[1], far[0], far[1]))
		tapes = append(tapes, at+" "+a[0]+" "+a[1], at+" "+b[0]+" "+b[1])
	}
	solved := run(t, tapes, "GeodSolve", "-i", "-p", "6")
	for i, line := range run(t, swings, "node", "test/lines.mjs") {
		var ra, rb, cut, lat, lon, wantA, wantB, aziA, aziB, skip float64
		if _, err := fmt.Sscan(line, &ra, &rb, &cut, &lat, &lon); err != nil {
			t.Fatalf("%s: %q: %v", swings[i], line, err)
		}
		for j, to := range [][]any{{&aziA, &skip, &wantA}, {&aziB, &skip, &wantB}} {
			if _, err := fmt.Sscan(solved[2*i+j], to...); err != nil {
				t.Fatalf("%s: %q: %v", tapes[2*i+j], solved[2*i+j], err)
			}
		}
		wantCut := math.Abs(math.Remainder(aziA-aziB, 360))
		if math.Abs(ra-wantA) > 1e-5 || math.Abs(rb-wantB) > 1e-5 || math.Abs(cut-wantCut) > 1e-4 {
			t.Errorf("%s: %s, GeodSolve %s and %s", swings[i], line, solved[2*i], solved[2*i+1])
		}
		f := strings.Fields(swings[i])
		laid = append(laid, fmt.Sprintf("%s %s %.12f %.12f", f[5], f[6], lat, lon))
	}
	for i, line := range run(t, laid, "GeodSolve", "-i", "-p", "6") {
		if off, err := strconv.ParseFloat(strings.Fields(line)[2], 64); err != nil || off > 1e-4 {
			t.Errorf("%s: the swing is %s off", swings[i], line)
		}
	}
	ours := run(t, stations, "node", "test/lines.mjs")
	for i, line := range ours {
		f, s := strings.Fields(line), strings.Fields(stations[i])
		square = append(square, strings.Join([]string{f[2], f[3], s[5], s[6]}, " "))
		stationed = append(stationed, strings.Join([]string{s[1], s[2], f[2], f[3]}, " "), strings.Join([]string{s[1], s[2], s[3], s[4]}, " "))
	}
	geod := []string{"+ellps=WGS84", "+units=m", "-I", "-f", "%.9f", "-F", "%.6f"}
	across, along := run(t, square, "geod", geod...), run(t, stationed, "geod", geod...)
	for i, line := range ours {
		var station, offset, azi, far, fromStart, aziFoot, back float64
		if _, err := fmt.Sscan(line, &station, &offset); err != nil {
			t.Fatalf("%s: %q: %v", stations[i], line, err)
		}
		if _, err := fmt.Sscan(across[i], &azi, &back, &far); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscan(along[2*i], &aziFoot, &back, &fromStart); err != nil {
			t.Fatal(err)
		}
		line2 := 0.0
		if _, err := fmt.Sscan(along[2*i+1], &line2); err != nil {
			t.Fatal(err)
		}
		// The direction of the line at the foot: seen from the start, turned as the meridians meet.
		turn := math.Remainder(back+180-aziFoot, 360)
		side := math.Remainder(azi-line2-turn, 360)
		if math.Abs(math.Abs(offset)-far) > 1e-4 || math.Abs(math.Abs(station)-fromStart) > 1e-4 || math.Signbit(offset) != math.Signbit(side) ||
			far > 0.5 && math.Abs(math.Abs(side)-90) > 0.01 {
			t.Errorf("%s: %s, geod %s and %s, %.4f° from the line", stations[i], line, across[i], along[2*i], side)
		}
	}
}

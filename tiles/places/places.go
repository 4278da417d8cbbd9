// Package places reads the places that people type, in the forms that the map
// page reads too: degrees, degrees and minutes, degrees minutes seconds, UTM,
// MGRS. All are taken to be WGS 84.
package places

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
)

// Examples are the forms that can be typed.
const Examples = `40.0123,-105.0456 or 40 0 44.3 N 105 2 44.2 W or 13N 498945 4429136 or 13TDE9894529136`

// Parse reads a place in degrees, latitude first.
func Parse(typed string) (lat, lon float64, err error) {
	text := strings.NewReplacer("−", "-", "–", "-").Replace(strings.ToUpper(strings.TrimSpace(typed)))
	if len(text) > 200 {
		text = text[:200]
	}
	for _, read := range []func(string) (orb.Point, bool, error){readMGRS, readUTM, readDegrees} {
		p, its, err := read(text)
		if err != nil {
			return 0, 0, fmt.Errorf("place %q: %w", typed, err)
		}
		if its {
			return round(p[1]), round(p[0]), nil
		}
	}
	return 0, 0, fmt.Errorf("place %q: want a latitude and a longitude, such as %s", typed, Examples)
}

// round takes away the digits that only arithmetic made: 1e-9° is 0.1 mm.
func round(degrees float64) float64 { return math.Round(degrees*1e9) / 1e9 }

var (
	zoneFirst = regexp.MustCompile(`^(?:UTM)?\s*(?:ZONE)?\s*(\d{1,2})\s*(NORTH|SOUTH|[A-Z])[\s,;:]+` +
		meters + `[\s,;]+` + meters + `$`)
	zoneLast = regexp.MustCompile(`^(?:UTM)?\s*` + meters + `[\s,;]+` + meters +
		`[\s,;]+(?:ZONE)?\s*(\d{1,2})\s*(NORTH|SOUTH|[A-Z])$`)
	thousands = regexp.MustCompile(`(\d),(\d{3})\b`)
)

const meters = `(\d+(?:\.\d+)?)\s*M?\s*([EN]?)`

// readUTM reads "13N 498945 4429136", the zone first or last.
func readUTM(text string) (p orb.Point, its bool, err error) {
	bare := text
	for thousands.MatchString(bare) { // 4,429,136
		bare = thousands.ReplaceAllString(bare, "$1$2")
	}
	var zone, letter, first, second string
	var swapped bool
	if m := zoneFirst.FindStringSubmatch(bare); m != nil {
		zone, letter, first, second, swapped = m[1], m[2], m[3], m[5], m[4] == "N" || m[6] == "E"
	} else if m := zoneLast.FindStringSubmatch(bare); m != nil {
		zone, letter, first, second, swapped = m[5], m[6], m[1], m[3], m[2] == "N" || m[4] == "E"
	} else {
		return p, false, nil
	}
	if swapped {
		first, second = second, first
	}
	z, _ := strconv.Atoi(zone) // two digits
	east, _ := strconv.ParseFloat(first, 64)
	north, _ := strconv.ParseFloat(second, 64)
	if max(east, north) < 1000 {
		return p, false, nil // degrees with a letter
	}
	south, err := half(letter)
	switch {
	case z < 1 || z > 60:
		return p, true, fmt.Errorf("read as UTM, but zones are numbered 1 to 60, not %d", z)
	case err != nil:
		return p, true, fmt.Errorf("read as UTM, but %w", err)
	case east < 100_000 || east > 900_000:
		return p, true, fmt.Errorf("read as UTM, but an easting lies between 100,000 and 900,000 m, not at %.0f m", east)
	}
	p, ok := geodesic.UTM(z, south).Inverse(orb.Point{east, north})
	if !ok || p[1] < -80 || p[1] > 84 || south && p[1] > 0 {
		return p, true, fmt.Errorf("read as UTM, but a northing of %.0f m lies beyond where UTM ends", north)
	}
	return p, true, nil
}

// half says which half of the earth a letter after a zone means. S alone is a
// band in the north and the southern half to others: it is not guessed.
func half(letter string) (south bool, err error) {
	switch {
	case letter == "S":
		return false, fmt.Errorf("zone letter S may be a band in the north or the southern half: write NORTH or SOUTH")
	case len(letter) > 1:
		return letter == "SOUTH", nil
	case !strings.Contains(bands, letter):
		return false, fmt.Errorf("there is no band %s", letter)
	}
	return letter < "N", nil
}

// bounds is a box in degrees.
type bounds struct{ south, north, west, east float64 }

// us are generous boxes round the United States: they take in strips of its
// neighbors and of the sea, because they only decide whether a place is
// plausible.
var us = []bounds{
	{24.3, 49.5, -125.2, -66.8},                    // contiguous
	{51, 71.6, -180, -129.9}, {51, 53.5, 172, 180}, // Alaska, and its islands beyond 180°
	{18.5, 28.7, -178.6, -154.5},                    // Hawaii
	{17.5, 18.8, -68.1, -64.4},                      // Puerto Rico, Virgin Islands
	{13, 20.8, 144.4, 146.3},                        // Guam, Northern Marianas
	{-14.8, -10.8, -171.3, -168},                    // American Samoa
	{19, 19.6, 166.4, 166.9}, {-1, 7, -177, -159.5}, // Wake; Baker, Howland, Jarvis, Kingman, Palmyra
	{28, 28.6, -177.6, -177}, {16.5, 17, -169.8, -169.2}, // Midway, Johnston
}

// InUS reports whether a place lies in or very near to the United States and
// its territories.
func InUS(lat, lon float64) bool {
	for _, b := range us {
		if lat >= b.south && lat <= b.north && lon >= b.west && lon <= b.east {
			return true
		}
	}
	return false
}

// MeantInUS gives the place in the United States that was likely meant by one
// that is not: with the minus of the longitude, or with both numbers in the
// other order. It is not ok where the place is in the United States as written,
// or no such mistake leads there.
func MeantInUS(lat, lon float64) (meantLat, meantLon float64, ok bool) {
	if InUS(lat, lon) {
		return lat, lon, false
	}
	for _, p := range [][2]float64{{lat, -lon}, {lon, lat}, {lon, -lat}, {-lat, lon}, {-lat, -lon}} {
		if InUS(p[0], p[1]) {
			return p[0], p[1], true
		}
	}
	return lat, lon, false
}

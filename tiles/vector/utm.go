package vector

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
)

// utm finds the place of a row by easting, northing and zone.
func (p Positions) utm(t *table, east, north, zone int) (locator, error) {
	unit := p.Unit
	if names := plainColumn(t.header[east] + t.header[north]); unit == 0 &&
		(strings.Contains(names, "(ft)") || strings.Contains(names, "_ft")) {
		return locator{}, refuse(RuleTable, "line 1",
			"easting and northing are in feet, and it is not said in which: at a northing of 14,000,000 ft the two feet are 28 ft apart",
			`write coordinates_in = "us survey ft" or "ft" in the job's [[overlay]]`)
	}
	if unit == 0 {
		unit = 1
	}
	if zone < 0 && p.UTM == "" {
		return locator{}, refuse(RuleTable, "line 1", "easting and northing without a coordinate system or a UTM zone",
			`write epsg = 2231 (its coordinate system) or utm_zone = "13N" in the job's [[overlay]], or give the table a column zone`)
	}
	used := []int{east, north}
	if zone >= 0 {
		used = append(used, zone)
	}
	note := fmt.Sprintf("Places were read as UTM from the columns %s and %s, a unit being %s m.",
		quote(t.header[east]), quote(t.header[north]), strconv.FormatFloat(unit, 'g', 10, 64))
	return locator{used, note, func(r *Row) {
		text := p.UTM
		if zone >= 0 {
			text = r.Cells[zone]
		}
		r.Point, r.Fault = fromUTM(r.Cells[east], r.Cells[north], text, unit)
	}}, nil
}

func fromUTM(east, north, zone string, unit float64) (orb.Point, string) {
	e, ok1 := number(strings.TrimSpace(east))
	n, ok2 := number(strings.TrimSpace(north))
	z, south, ok := parseZone(zone)
	switch {
	case !ok1 || !ok2:
		return orb.Point{}, quote(east+", "+north) + " is not an easting and a northing"
	case !ok:
		return orb.Point{}, quote(zone) + " is not a UTM zone, such as 13N or 55S"
	}
	e, n = e*unit, n*unit
	if e < 100_000 || e > 900_000 || n < 0 || n > 10_000_000 { // what a zone holds, with room
		detail := fmt.Sprintf("easting %.0f m, northing %.0f m is in no UTM zone", e, n)
		if e*0.3048 >= 100_000 && e*0.3048 <= 900_000 && unit == 1 {
			detail += ": are they feet?"
		}
		return orb.Point{}, detail
	}
	p, ok := geodesic.UTM(z, south).Inverse(orb.Point{e, n})
	if !ok {
		return orb.Point{}, "easting and northing are in no UTM zone"
	}
	return p, ""
}

// parseZone reads "13N". A zone with no half is refused: S may mean the
// southern half or a latitude band, so only N and S as halves are taken.
func parseZone(text string) (zone int, south, ok bool) {
	text = strings.ToUpper(strings.ReplaceAll(strings.TrimSpace(text), " ", ""))
	if text == "" {
		return 0, false, false
	}
	half := text[len(text)-1]
	zone, err := strconv.Atoi(text[:len(text)-1])
	return zone, half == 'S', err == nil && zone >= 1 && zone <= 60 && (half == 'N' || half == 'S')
}

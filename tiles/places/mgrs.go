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

// The letters of the Military Grid Reference System (NGA.STND.0037, 2014,
// chapter 3): bands of eight degrees of latitude from 80° south on, the last of
// twelve; columns and rows of squares of 100 km.
const (
	bands  = "CDEFGHJKLMNPQRSTUVWX"
	rows   = "ABCDEFGHJKLMNPQRSTUV"
	square = 100_000.0
)

var (
	columns = [3]string{"ABCDEFGH", "JKLMNPQR", "STUVWXYZ"}
	grid    = regexp.MustCompile(`^(\d{1,2})([A-Z])([A-Z])([A-Z])(\d*)$`)
	named   = regexp.MustCompile(`^MGRS[\s:]*`)
)

// readMGRS reads "13TDE9894529136", with or without blanks: the middle of the
// square that it names.
func readMGRS(text string) (p orb.Point, its bool, err error) {
	m := grid.FindStringSubmatch(strings.Join(strings.Fields(named.ReplaceAllString(text, "")), ""))
	if m == nil {
		return p, false, nil
	}
	zone, _ := strconv.Atoi(m[1])
	digits := len(m[5]) / 2
	band := strings.Index(bands, m[2])
	row := strings.Index(rows, m[4])
	column := -1
	if zone >= 1 && zone <= 60 {
		column = strings.Index(columns[(zone-1)%3], m[3])
	}
	wrong := ""
	switch {
	case zone < 1 || zone > 60:
		wrong = fmt.Sprintf("zones are numbered 1 to 60, not %d", zone)
	case band < 0:
		wrong = "there is no band " + m[2]
	case len(m[5])%2 != 0 || digits > 5:
		wrong = "its digits come in two halves of equal length, five digits at most each"
	case column < 0:
		wrong = fmt.Sprintf("zone %d has no column %s", zone, m[3])
	case row < 0:
		wrong = "there is no row " + m[4]
	default:
		east, _ := strconv.ParseFloat("0"+m[5][:digits], 64)
		north, _ := strconv.ParseFloat("0"+m[5][digits:], 64)
		side := math.Pow10(5 - digits)
		p, its = inBand(zone, band, orb.Point{float64(column+1)*square + (east+0.5)*side,
			float64(row)*square + (north+0.5)*side})
		if its {
			return p, true, nil
		}
		wrong = fmt.Sprintf("band %s has no row %s in zone %d", m[2], m[4], zone)
	}
	return p, true, fmt.Errorf("read as MGRS, but %s", wrong)
}

// inBand finds the northing that lies in a band: rows come again every 2,000 km,
// those of even zones begin five letters later.
func inBand(zone, band int, at orb.Point) (orb.Point, bool) {
	if zone%2 == 0 {
		at[1] += 15 * square
	}
	at[1] = math.Mod(at[1], 20*square)
	south, north := float64(band*8-80), float64(band*8-72)
	if band == len(bands)-1 {
		north = 84
	}
	for ; at[1] < 100*square; at[1] += 20 * square {
		// Squares are cut by the borders of bands: they reach a degree beyond.
		p, ok := geodesic.UTM(zone, band < 10).Inverse(at)
		if ok && p[1] > south-1 && p[1] < north+1 {
			return p, true
		}
	}
	return orb.Point{}, false
}

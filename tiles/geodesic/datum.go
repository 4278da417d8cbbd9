package geodesic

import (
	"math"

	"github.com/paulmach/orb"
)

// Shift is how far the same numbers on two datums lie apart on the ground.
type Shift struct{ East, North float64 } // meters

// Length is the shift's length in meters.
func (s Shift) Length() float64 { return math.Hypot(s.East, s.North) }

// NAD83Shift is how far the numbers of a place on NAD83(2011) lie from its
// numbers on WGS 84, in meters, at a time in decimal years. WGS 84 is taken as
// ITRF2014, which it follows within centimeters.
//
// Source: EPSG:8970, ITRF2014 to NAD83(2011), coordinate frame rotation with
// rates, reference epoch 2010.0. It holds for the North American plate.
func NAD83Shift(p orb.Point, year float64) Shift {
	const mas = math.Pi / 180 / 3600 / 1000
	t := year - 2010
	tx, ty, tz := 1.0053+0.00079*t, -1.90921-0.0006*t, -0.54157-0.00144*t
	rx, ry, rz := (26.78138+0.06667*t)*mas, (-0.42027-0.75744*t)*mas, (10.93206-0.05133*t)*mas
	scale := (0.36891 - 0.07201*t) * 1e-9

	sinLat, cosLat := math.Sincos(radians(p[1]))
	sinLon, cosLon := math.Sincos(radians(p[0]))
	n := semiMajor / math.Sqrt(1-eccentric2*sinLat*sinLat)
	x, y, z := n*cosLat*cosLon, n*cosLat*sinLon, n*(1-eccentric2)*sinLat
	dx := tx + scale*x + rz*y - ry*z
	dy := ty - rz*x + scale*y + rx*z
	dz := tz + ry*x - rx*y + scale*z
	return Shift{
		East:  -sinLon*dx + cosLon*dy,
		North: -sinLat*cosLon*dx - sinLat*sinLon*dy + cosLat*dz,
	}
}

// FromNAD83 gives the place on WGS 84 whose numbers on NAD83(2011) are p, at a
// time in decimal years; see [NAD83Shift]. Heights above the ellipsoid are
// taken as 0: 3,000 m change it by a millimeter.
func FromNAD83(p orb.Point, year float64) orb.Point {
	s := NAD83Shift(p, year) // the shift at p and that at the place found differ by less than a micrometer
	return At(p).Degrees(orb.Point{-s.East, -s.North})
}

// OnNAD83 says whether NAD83(2011) is the NAD83 of a place in degrees: that of
// the contiguous United States, Alaska, Puerto Rico and the Virgin Islands, by
// a rough box. Hawaii and the islands of the Pacific have NAD83(PA11) and
// (MA11), on other plates (NGS, National Adjustment of 2011).
func OnNAD83(p orb.Point) bool {
	pacific := p[0] < -130 && p[1] < 45
	return p[0] >= -180 && p[0] <= -60 && p[1] >= 15 && p[1] <= 75 && !pacific
}

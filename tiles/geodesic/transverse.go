package geodesic

import (
	"math"

	"github.com/paulmach/orb"
)

// Transverse is a transverse Mercator on an ellipsoid.
type Transverse struct {
	ellipsoid   Ellipsoid
	meridian    float64 // central, degrees
	east, north float64 // false origin, meters; its northing is that of the equator
	alpha, beta [6]float64
	rectifying  float64 // scaled radius, meters
}

// Ellipsoid is given by its equatorial radius in meters and its flattening.
type Ellipsoid struct{ Radius, Flattening float64 }

// WGS84 is the ellipsoid of WGS 84 (EPSG:7030).
func WGS84() Ellipsoid { return Ellipsoid{semiMajor, flattening} }

// GRS80 is the ellipsoid of NAD83 and of most later datums (EPSG:7019).
func GRS80() Ellipsoid { return Ellipsoid{semiMajor, 1 / 298.257222101} }

// Eccentricity2 is the square of the eccentricity.
func (e Ellipsoid) Eccentricity2() float64 { return e.Flattening * (2 - e.Flattening) }

// UTM is the projection of a zone of the Universal Transverse Mercator, 1 to
// 60, on WGS 84.
func UTM(zone int, south bool) *Transverse {
	north := 0.0
	if south {
		north = 10_000_000
	}
	return NewTransverse(WGS84(), float64(6*zone-183), 0.9996, 500_000, north)
}

// believed is how far from the central meridian a position is believed, in
// meters: UTM zones are 670 km wide at most.
const believed = 1_000_000

// NewTransverse prepares the projection round a central meridian in degrees, with
// a scale on it and a false origin in meters: by the series of Krüger (1912) in the third flattening n
// to the sixth order, coefficients as in C. F. F. Karney, "Transverse Mercator
// with an accuracy of a few nanometers", J. Geodesy 85 (2011), equations 14, 35
// and 36. Within 3,900 km of the meridian its error is below 5 nm.
func NewTransverse(e Ellipsoid, meridian, scale, east, north float64) *Transverse {
	n := e.Flattening / (2 - e.Flattening)
	n2 := n * n
	n3, n4, n5, n6 := n2*n, n2*n2, n2*n2*n, n2*n2*n2
	return &Transverse{
		ellipsoid: e, meridian: meridian, east: east, north: north,
		alpha: [6]float64{
			n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180 - 127*n5/288 + 7891*n6/37800,
			13*n2/48 - 3*n3/5 + 557*n4/1440 + 281*n5/630 - 1983433*n6/1935360,
			61*n3/240 - 103*n4/140 + 15061*n5/26880 + 167603*n6/181440,
			49561*n4/161280 - 179*n5/168 + 6601661*n6/7257600,
			34729*n5/80640 - 3418889*n6/1995840,
			212378941 * n6 / 319334400,
		},
		beta: [6]float64{
			n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
			n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
			17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
			4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
			4583*n5/161280 - 108847*n6/3991680,
			20648693 * n6 / 638668800,
		},
		rectifying: scale * e.Radius / (1 + n) * (1 + n2/4 + n4/64 + n6/256),
	}
}

// From gives the projection with another latitude of origin in degrees than the
// equator: the one on which northings begin at the false one.
func (t *Transverse) From(latitude float64) *Transverse {
	moved := *t
	length := 0.0  // from the equator along the meridian
	for range 20 { // each step takes off two digits
		p, _ := t.Inverse(orb.Point{t.east, t.north + length})
		length += (latitude - p[1]) * math.Pi / 180 * t.rectifying
	}
	moved.north -= length
	return &moved
}

// Forward turns degrees, longitude first, into easting and northing in meters.
// Positions more than 1,000 km from the central meridian are not ok.
func (t *Transverse) Forward(p orb.Point) (orb.Point, bool) {
	sin, cos := math.Sincos(radians(math.Remainder(p[0]-t.meridian, 360)))
	conformal := t.ellipsoid.conformal(math.Tan(radians(p[1])))
	x, y := math.Atan2(conformal, cos), math.Asinh(sin/math.Hypot(conformal, cos))
	xi, eta := x, y
	for j, a := range t.alpha {
		k := 2 * float64(j+1)
		xi += a * math.Sin(k*x) * math.Cosh(k*y)
		eta += a * math.Cos(k*x) * math.Sinh(k*y)
	}
	eta *= t.rectifying
	return orb.Point{t.east + eta, t.north + xi*t.rectifying}, cos > 0 && math.Abs(eta) <= believed
}

// conformal is the tangent of the conformal latitude, from that of the latitude
// (Karney 2011, equations 7 to 9).
func (e Ellipsoid) conformal(tau float64) float64 {
	eccentricity := math.Sqrt(e.Eccentricity2())
	root := math.Hypot(1, tau)
	sigma := math.Sinh(eccentricity * math.Atanh(eccentricity*tau/root))
	return tau*math.Hypot(1, sigma) - sigma*root
}

// Inverse turns easting and northing in meters into degrees. Positions beyond
// the poles or more than 1,000 km from the central meridian are not ok.
func (t *Transverse) Inverse(p orb.Point) (orb.Point, bool) {
	xi, eta := (p[1]-t.north)/t.rectifying, (p[0]-t.east)/t.rectifying
	if !(math.Abs(p[0]-t.east) <= believed) || !(math.Abs(xi) < math.Pi/2) {
		return p, false
	}
	x, y := xi, eta
	for j, b := range t.beta {
		k := 2 * float64(j+1)
		x -= b * math.Sin(k*xi) * math.Cosh(k*eta)
		y -= b * math.Cos(k*xi) * math.Sinh(k*eta)
	}
	conformal := math.Sin(x) / math.Hypot(math.Sinh(y), math.Cos(x))
	lon := t.meridian + math.Atan2(math.Sinh(y), math.Cos(x))*180/math.Pi
	return orb.Point{math.Remainder(lon, 360), t.ellipsoid.Latitude(conformal)}, true
}

// Latitude finds the latitude in degrees from the tangent of the conformal
// latitude, by Newton's method (Karney 2011, equations 7 to 9 and 19 to 21).
func (e Ellipsoid) Latitude(conformal float64) float64 {
	const steps = 5 // two are enough below 89 degrees
	squared := e.Eccentricity2()
	tau := conformal
	for range steps {
		root, guess := math.Hypot(1, tau), e.conformal(tau)
		tau += (conformal - guess) / math.Hypot(1, guess) *
			(1 + (1-squared)*tau*tau) / ((1 - squared) * root)
	}
	return math.Atan(tau) * 180 / math.Pi
}

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

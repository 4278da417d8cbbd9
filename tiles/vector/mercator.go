package vector

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// worldWidth is the width of the Web Mercator square, in its metres.
const worldWidth = 2 * math.Pi * tiles.EarthRadius

// fromWebMercator turns metres of the Web Mercator sphere (EPSG method 1024)
// into degrees. Positions off the world square are not ok.
func fromWebMercator(p orb.Point) (orb.Point, bool) {
	x, y := p[0]/worldWidth+0.5, 0.5-p[1]/worldWidth
	lon, lat := tiles.Unproject(x, y)
	return orb.Point{lon, lat}, x >= 0 && x <= 1 && y >= 0 && y <= 1
}

// transverse is a transverse Mercator on an ellipsoid, with the equator as its
// latitude of origin.
type transverse struct {
	ellipsoid
	meridian      float64 // central, degrees
	scale         float64 // on it
	east, north   float64 // false origin, metres
	beta          [6]float64
	rectifying    float64 // scaled radius, metres
	eccentricity2 float64
}

// ellipsoid is given by its equatorial radius in metres and its flattening.
type ellipsoid struct{ radius, flattening float64 }

// reach is how far from the central meridian a position is believed, in
// metres: UTM zones are 670 km wide at most.
const reach = 1_000_000

// newTransverse prepares the series of Krüger (1912) in the third flattening n
// to the sixth order, coefficients as in C. F. F. Karney, "Transverse Mercator
// with an accuracy of a few nanometers", J. Geodesy 85 (2011), equations 14
// and 36. Within 3,900 km of the meridian its error is below 5 nm.
func newTransverse(e ellipsoid, meridian, scale, east, north float64) *transverse {
	n := e.flattening / (2 - e.flattening)
	n2 := n * n
	n3, n4, n5, n6 := n2*n, n2*n2, n2*n2*n, n2*n2*n2
	return &transverse{
		ellipsoid: e, meridian: meridian, scale: scale, east: east, north: north,
		beta: [6]float64{
			n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
			n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
			17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
			4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
			4583*n5/161280 - 108847*n6/3991680,
			20648693 * n6 / 638668800,
		},
		rectifying:    scale * e.radius / (1 + n) * (1 + n2/4 + n4/64 + n6/256),
		eccentricity2: e.flattening * (2 - e.flattening),
	}
}

// inverse turns easting and northing in metres into degrees. Positions beyond
// the poles or more than [reach] from the central meridian are not ok.
func (t *transverse) inverse(p orb.Point) (orb.Point, bool) {
	xi, eta := (p[1]-t.north)/t.rectifying, (p[0]-t.east)/t.rectifying
	if !(math.Abs(p[0]-t.east) <= reach) || !(math.Abs(xi) < math.Pi/2) {
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
	lat := math.Atan(t.tangent(conformal)) * 180 / math.Pi
	return orb.Point{math.Remainder(lon, 360), lat}, true
}

// tangent finds the tangent of the latitude from that of the conformal
// latitude, by Newton's method (Karney 2011, equations 7 to 9 and 19 to 21).
func (t *transverse) tangent(conformal float64) float64 {
	const steps = 5 // two are enough below 89 degrees
	e := math.Sqrt(t.eccentricity2)
	tau := conformal
	for range steps {
		root := math.Hypot(1, tau)
		sigma := math.Sinh(e * math.Atanh(e*tau/root))
		guess := tau*math.Hypot(1, sigma) - sigma*root
		tau += (conformal - guess) / math.Hypot(1, guess) *
			(1 + (1-t.eccentricity2)*tau*tau) / ((1 - t.eccentricity2) * root)
	}
	return tau
}

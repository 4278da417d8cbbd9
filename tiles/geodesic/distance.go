// Package geodesic measures on the WGS 84 ellipsoid: distances, and a flat
// frame of meters round a place. No geodesic library for Go was
// available, so the formulas are here; the tests compare them with GeographicLib.
package geodesic

import (
	"math"

	"github.com/paulmach/orb"
)

// WGS 84 (EPSG:7030): semi-major axis in meters, flattening, and what follows.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
	semiMinor  = semiMajor * (1 - flattening)
	eccentric2 = flattening * (2 - flattening)
	meanRadius = 6371008.8 // IUGG mean radius, for the fallback of [Distance]
)

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }

// Distance is the length in meters of the shortest line between two places on
// the WGS 84 ellipsoid, by Vincenty's inverse formula (Survey Review 23/176,
// 1975): within a millimeter. For places nearly opposite on the globe, where
// the formula does not settle, it is the length on a sphere, within 0.6 %.
func Distance(a, b orb.Point) float64 {
	const f = flattening
	l := radians(b[0] - a[0])
	u1, u2 := math.Atan((1-f)*math.Tan(radians(a[1]))), math.Atan((1-f)*math.Tan(radians(b[1])))
	sin1, cos1 := math.Sincos(u1)
	sin2, cos2 := math.Sincos(u2)
	lambda := l
	for range 100 {
		sinL, cosL := math.Sincos(lambda)
		sinS := math.Hypot(cos2*sinL, cos1*sin2-sin1*cos2*cosL)
		if sinS == 0 {
			break // the same place, or exactly opposite
		}
		cosS := sin1*sin2 + cos1*cos2*cosL
		sigma := math.Atan2(sinS, cosS)
		sinA := cos1 * cos2 * sinL / sinS
		cosA2 := 1 - sinA*sinA
		cos2M := 0.0 // on the equator
		if cosA2 > 0 {
			cos2M = cosS - 2*sin1*sin2/cosA2
		}
		c := f / 16 * cosA2 * (4 + f*(4-3*cosA2))
		before := lambda
		lambda = l + (1-c)*f*sinA*(sigma+c*sinS*(cos2M+c*cosS*(2*cos2M*cos2M-1)))
		if math.Abs(lambda-before) < 1e-14 {
			return alongVincenty(cosA2, sinS, cosS, sigma, cos2M)
		}
	}
	return onSphere(a, b)
}

// alongVincenty is the last step of the formula: from the arc to meters.
func alongVincenty(cosA2, sinS, cosS, sigma, cos2M float64) float64 {
	u := cosA2 * (semiMajor*semiMajor - semiMinor*semiMinor) / (semiMinor * semiMinor)
	big := 1 + u/16384*(4096+u*(-768+u*(320-175*u)))
	small := u / 1024 * (256 + u*(-128+u*(74-47*u)))
	m2 := cos2M * cos2M
	delta := small * sinS * (cos2M + small/4*(cosS*(2*m2-1)-small/6*cos2M*(4*sinS*sinS-3)*(4*m2-3)))
	return semiMinor * big * (sigma - delta)
}

func onSphere(a, b orb.Point) float64 {
	dLat, dLon := radians(b[1]-a[1])/2, radians(b[0]-a[0])/2
	h := math.Pow(math.Sin(dLat), 2) + math.Cos(radians(a[1]))*math.Cos(radians(b[1]))*math.Pow(math.Sin(dLon), 2)
	return 2 * meanRadius * math.Asin(min(1, math.Sqrt(h)))
}

// Frame is a flat frame of meters, east and north of a place. Within 10 km of
// it lengths are true to a thousandth below latitude 60; directions likewise.
// What is straight in degrees is straight in it.
type Frame struct {
	origin      orb.Point
	east, north float64 // meters a degree
}

// At makes the frame round a place in degrees.
func At(p orb.Point) Frame {
	s, c := math.Sincos(radians(p[1]))
	w := 1 - eccentric2*s*s
	return Frame{
		origin: p,
		east:   radians(1) * semiMajor / math.Sqrt(w) * math.Max(c, 1e-9),
		north:  radians(1) * semiMajor * (1 - eccentric2) / (w * math.Sqrt(w)),
	}
}

// Meters gives the meters east and north of a place in degrees.
func (f Frame) Meters(p orb.Point) orb.Point {
	return orb.Point{(p[0] - f.origin[0]) * f.east, (p[1] - f.origin[1]) * f.north}
}

// Degrees is the inverse of [Frame.Meters].
func (f Frame) Degrees(p orb.Point) orb.Point {
	return orb.Point{f.origin[0] + p[0]/f.east, f.origin[1] + p[1]/f.north}
}

// Span gives the degrees of longitude and latitude that meters take.
func (f Frame) Span(meters float64) (lon, lat float64) { return meters / f.east, meters / f.north }

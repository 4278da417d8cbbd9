package crs

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
)

// method is a way to project, by its number in the EPSG registry.
type method int

const (
	geographic   method = 0 // no projection: degrees
	webMercator  method = 1024
	conic1       method = 9801 // Lambert, one standard parallel
	conic2       method = 9802 // Lambert, two
	transverse   method = 9807
	obliqueA     method = 9812 // Hotine, false origin at the natural origin
	obliqueB     method = 9815 // Hotine, false origin at the center
	equalArea    method = 9822 // Albers
	mostNumbers         = 7
	quarter             = math.Pi / 2
	beyondMeters        = 100_000_000 // false eastings carry the number of a zone
)

// definition is a projection with its numbers in degrees and meters, in the
// order of parameterNames.
type definition struct {
	method  method
	numbers [mostNumbers]float64
}

// projection is both ways of a projection, between degrees and easting and
// northing in meters. Positions that lie nowhere in it are not ok.
type projection struct {
	forward, inverse func(orb.Point) (orb.Point, bool)
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
func degrees(radians float64) float64 { return radians * 180 / math.Pi }

// project prepares both ways.
func (d definition) project(e geodesic.Ellipsoid) projection {
	n := d.numbers
	switch d.method {
	case transverse:
		t := geodesic.NewTransverse(e, n[1], n[2], n[3], n[4]).From(n[0])
		return projection{t.Forward, t.Inverse}
	case conic1:
		return conic(e, n[0], n[1], n[0], n[0], n[2], n[3], n[4])
	case conic2:
		return conic(e, n[0], n[1], n[2], n[3], 1, n[4], n[5])
	case equalArea:
		return albers(e, n)
	case obliqueA, obliqueB:
		return oblique(e, d)
	case webMercator:
		return projection{toWebMercator, fromWebMercator}
	}
	return projection{}
}

// edge of Web Mercator in meters (EPSG:3857), from the middle of the world.
const edge = 20037508.342789244

func toWebMercator(p orb.Point) (orb.Point, bool) {
	y := math.Asinh(math.Tan(radians(p[1]))) / math.Pi * edge
	return orb.Point{p[0] / 180 * edge, y}, math.Abs(y) <= edge+1e-3
}

// fromWebMercator undoes the projection of a sphere of 6,378,137 m (EPSG:3857).
func fromWebMercator(p orb.Point) (orb.Point, bool) {
	if !(math.Abs(p[0]) <= edge+1e-3) || !(math.Abs(p[1]) <= edge+1e-3) {
		return p, false
	}
	return orb.Point{p[0] / edge * 180, degrees(math.Atan(math.Sinh(p[1] / edge * math.Pi)))}, true
}

// east of a meridian, in degrees from -180 to 180.
func east(lon, meridian float64) float64 { return math.Remainder(lon-meridian, 360) }

// isometric is exp(-ψ) of the isometric latitude ψ: t of Snyder, "Map
// Projections: A Working Manual" (USGS Professional Paper 1395), 15-9.
func isometric(e geodesic.Ellipsoid, lat float64) float64 {
	ecc := math.Sqrt(e.Eccentricity2())
	s := math.Sin(lat)
	return math.Tan(math.Pi/4-lat/2) * math.Exp(ecc*math.Atanh(ecc*s))
}

// latitudeOf is the inverse of isometric, in degrees.
func latitudeOf(e geodesic.Ellipsoid, t float64) float64 { return e.Latitude((1/t - t) / 2) }

// parallel is m of Snyder, 14-15: the radius of a parallel, the equator's being 1.
func parallel(e geodesic.Ellipsoid, lat float64) float64 {
	s, c := math.Sincos(lat)
	return c / math.Sqrt(1-e.Eccentricity2()*s*s)
}

// conic is the conformal conic of Lambert (Snyder, 15-1 to 15-11; IOGP 373-7-2,
// 3.1.1). With equal parallels it has one, and a scale on it.
func conic(e geodesic.Ellipsoid, lat0, lon0, lat1, lat2, scale, east0, north0 float64) projection {
	t1, t2 := isometric(e, radians(lat1)), isometric(e, radians(lat2))
	m1, m2 := parallel(e, radians(lat1)), parallel(e, radians(lat2))
	n := math.Sin(radians(lat1))
	if lat1 != lat2 {
		n = math.Log(m1/m2) / math.Log(t1/t2)
	}
	f := e.Radius * scale * m1 / (n * math.Pow(t1, n))
	r0 := f * math.Pow(isometric(e, radians(lat0)), n)
	return projection{func(p orb.Point) (orb.Point, bool) {
		r := f * math.Pow(isometric(e, radians(p[1])), n)
		sin, cos := math.Sincos(n * radians(east(p[0], lon0)))
		return orb.Point{east0 + r*sin, north0 + r0 - r*cos}, true
	}, func(p orb.Point) (orb.Point, bool) {
		x, y := p[0]-east0, r0-(p[1]-north0)
		if n < 0 {
			x, y = -x, -y
		}
		t := math.Pow(math.Hypot(x, y)/math.Abs(f), 1/n)
		return orb.Point{math.Remainder(lon0+degrees(math.Atan2(x, y)/n), 360), latitudeOf(e, t)}, true
	}}
}

// albers is the equal-area conic of Albers (Snyder, 14-1 to 14-21).
func albers(e geodesic.Ellipsoid, n [mostNumbers]float64) projection {
	e2 := e.Eccentricity2()
	ecc := math.Sqrt(e2)
	q := func(lat float64) float64 {
		s := math.Sin(lat)
		return (1 - e2) * (s/(1-e2*s*s) + math.Atanh(ecc*s)/ecc)
	}
	lat1, lat2 := radians(n[2]), radians(n[3])
	m1, m2 := parallel(e, lat1), parallel(e, lat2)
	k := math.Sin(lat1)
	if lat1 != lat2 {
		k = (m1*m1 - m2*m2) / (q(lat2) - q(lat1))
	}
	c := m1*m1 + k*q(lat1)
	r0 := e.Radius * math.Sqrt(c-k*q(radians(n[0]))) / k
	return projection{func(p orb.Point) (orb.Point, bool) {
		r := e.Radius * math.Sqrt(c-k*q(radians(p[1]))) / k
		sin, cos := math.Sincos(k * radians(east(p[0], n[1])))
		return orb.Point{n[4] + r*sin, n[5] + r0 - r*cos}, true
	}, func(p orb.Point) (orb.Point, bool) {
		x, y := p[0]-n[4], r0-(p[1]-n[5])
		r := math.Hypot(x, y) * k / e.Radius
		want := (c - r*r) / k
		if k < 0 {
			x, y = -x, -y
		}
		lat := math.Asin(want / 2)
		for range 10 {
			s, cos := math.Sincos(lat)
			w := 1 - e2*s*s
			lat += w * w / (2 * cos) * (want - q(lat)) / (1 - e2)
		}
		return orb.Point{math.Remainder(n[1]+degrees(math.Atan2(x, y)/k), 360), degrees(lat)}, math.Abs(lat) < quarter
	}}
}

// oblique is the oblique Mercator of Hotine, variants A and B (IOGP 373-7-2,
// 3.2.4). The names of its constants are those of the guidance note.
func oblique(e geodesic.Ellipsoid, d definition) projection {
	latC, lonC, azimuth, gamma := radians(d.numbers[0]), radians(d.numbers[1]), radians(d.numbers[2]), radians(d.numbers[3])
	scale, east0, north0 := d.numbers[4], d.numbers[5], d.numbers[6]
	e2 := e.Eccentricity2()
	sinC, cosC := math.Sincos(latC)
	sign := math.Copysign(1, latC)
	b := math.Sqrt(1 + e2*cosC*cosC*cosC*cosC/(1-e2))
	a := e.Radius * b * scale * math.Sqrt(1-e2) / (1 - e2*sinC*sinC)
	dd := math.Max(1, b*math.Sqrt(1-e2)/(cosC*math.Sqrt(1-e2*sinC*sinC)))
	root := math.Sqrt(dd*dd - 1)
	f := dd + root*sign
	h := f * math.Pow(isometric(e, latC), b)
	g := (f - 1/f) / 2
	gamma0 := math.Asin(math.Sin(azimuth) / dd)
	lon0 := lonC - math.Asin(g*math.Tan(gamma0))/b
	center := 0.0
	if d.method == obliqueB {
		center = a / b * math.Atan2(root, math.Cos(azimuth)) * sign
	}
	sin0, cos0 := math.Sincos(gamma0)
	sinG, cosG := math.Sincos(gamma)
	return projection{func(p orb.Point) (orb.Point, bool) {
		q := h / math.Pow(isometric(e, radians(p[1])), b)
		s, t := (q-1/q)/2, (q+1/q)/2
		sin, cos := math.Sincos(b * radians(east(p[0], degrees(lon0))))
		side := (s*sin0 - sin*cos0) / t
		v := -a / b * math.Atanh(side)
		u := a/b*math.Atan2(s*cos0+sin*sin0, cos) - center
		return orb.Point{east0 + v*cosG + u*sinG, north0 + u*cosG - v*sinG}, math.Abs(side) < 1
	}, func(p orb.Point) (orb.Point, bool) {
		x, y := p[0]-east0, p[1]-north0
		v, u := x*cosG-y*sinG, y*cosG+x*sinG+center
		q := math.Exp(-b * v / a)
		s, t := (q-1/q)/2, (q+1/q)/2
		sinU, cosU := math.Sincos(b * u / a)
		top := (sinU*cos0 + s*sin0) / t
		iso := math.Pow(h/math.Sqrt((1+top)/(1-top)), 1/b)
		return orb.Point{math.Remainder(degrees(lon0-math.Atan2(s*cos0-sinU*sin0, cosU)/b), 360), latitudeOf(e, iso)}, true
	}}
}

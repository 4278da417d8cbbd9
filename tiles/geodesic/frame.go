package geodesic

import (
	"math"

	"github.com/paulmach/orb"
)

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

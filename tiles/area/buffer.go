package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

const (
	longest = 128                 // edges of one band
	sharp   = 100 * math.Pi / 180 // the sharpest bend inside a band
)

// vertex is a place of a line that is to be widened, with the shape of the ground
// within reach of it.
type vertex struct {
	at orb.Point
	ellipse
	corners int // edges of a circle round it
}

func newStep(p orb.Point, reach float64) vertex { return vertex{p, ellipseAt(p, reach), bends} }

// to is the direction and the length of the way to another step, in a plane
// where the ground within reach is a circle; the length is in radii.
func (s vertex) to(o vertex) (direction, long float64) {
	dx, dy := (o.x-s.x)/s.a, (o.y-s.y)/s.b
	return math.Atan2(dy, dx), math.Hypot(dx, dy)
}

// turnAt is how much the line turns at b, from -π to π.
func turnAt(a, b, c vertex) float64 {
	before, _ := a.to(b)
	after, _ := b.to(c)
	return math.Remainder(after-before, 2*math.Pi)
}

// joinable is how many steps from the first make one band: a bend must not be
// too sharp, and its inner corner must lie beside its edges.
func joinable(steps []vertex) int {
	n := 2
	for ; n < len(steps) && n <= longest; n++ {
		a, b, c := steps[n-2], steps[n-1], steps[n]
		_, before := a.to(b)
		_, after := b.to(c)
		turn := math.Abs(turnAt(a, b, c))
		if !(turn <= sharp && math.Tan(turn/2) <= min(before, after)/2) {
			break
		}
	}
	return n
}

// appendBuffer adds the ground within reach of a piece of a line as one shape; if
// it would meet itself or the antimeridian, as several that overlap.
func appendBuffer(parts orb.MultiPolygon, steps []vertex, reach float64) orb.MultiPolygon {
	if len(steps) == 2 {
		return appendHull(parts, steps[0].at, steps[1].at, reach, steps[0].corners, steps[1].corners)
	}
	ring := bufferSide(nil, steps)
	back := slices.Clone(steps)
	slices.Reverse(back)
	ring = bufferSide(ring, back)
	band := orb.Polygon{append(ring, ring[0])}
	if b := band.Bound(); b.Min[0] >= -180 && b.Max[0] <= 180 && asPolygon(band).Validate() == nil {
		return append(parts, band)
	}
	half := len(steps) / 2
	return appendBuffer(appendBuffer(parts, steps[:half+1], reach), steps[half:], reach)
}

// bufferSide goes along one side of a line and round its end.
func bufferSide(ring orb.Ring, steps []vertex) orb.Ring {
	for i := 1; i < len(steps); i++ {
		direction, _ := steps[i-1].to(steps[i])
		side := direction + math.Pi/2
		if i == len(steps)-1 {
			return steps[i].round(ring, side, -math.Pi)
		}
		if turn := turnAt(steps[i-1], steps[i], steps[i+1]); turn < 0 { // this is the outer side of the bend
			ring = steps[i].round(ring, side, turn)
		} else {
			ring = append(ring, steps[i].corner(side+turn/2, 1/math.Cos(turn/2)))
		}
	}
	return ring
}

// round appends an arc around a vertex, from one direction by an angle. The edges touch the
// circle from outside: the ground within reach is never cut.
func (s vertex) round(ring orb.Ring, from, by float64) orb.Ring {
	n := math.Ceil(math.Abs(by) / (2 * math.Pi / float64(s.corners)))
	ring = append(ring, s.corner(from, 1))
	for i := 0.5; i < n; i++ {
		ring = append(ring, s.corner(from+by*i/n, 1/math.Cos(by/n/2)))
	}
	return append(ring, s.corner(from+by, 1))
}

// corner is a place some radii away, in degrees.
func (s vertex) corner(direction, radii float64) orb.Point {
	sin, cos := math.Sincos(direction)
	lon, lat := tiles.Unproject(s.x+s.a*radii*cos, s.y+s.b*radii*sin)
	return orb.Point{lon, lat}
}

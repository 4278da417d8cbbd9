// Package area holds what a job covers on the ground, and its exact tile cover.
//
// An [Area] is made from a boundary file ([Polygons]), a route with a width
// ([Route]) or a circle ([Around]). Lengths are meters on the WGS 84 ellipsoid,
// never meters of the map projection: at latitude 40 those are a quarter short.
// Edges are straight in longitude and latitude (RFC 7946, 3.1.1).
//
// github.com/peterstace/simplefeatures is at home here: it judges validity and
// joins shapes for drawing.
package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// MaxReach is the largest half width, radius or margin, in meters, for which
// the ground measure of a cover holds (see [Area.Covers]).
const MaxReach = 100_000.0

// Area is what a job covers: the union of its parts, which may overlap.
// Degrees of WGS 84, longitude first. The zero value is empty. Areas from
// [Polygons], [Route] and [Around] are valid; one made by hand is not checked.
type Area struct {
	Polygons orb.MultiPolygon
	Strips   []Strip
	Discs    []Disc
}

// Strip is the ground within HalfWidth meters of a line, round at its ends.
type Strip struct {
	Line      orb.LineString
	HalfWidth float64
}

// Disc is the ground within Radius meters of a place.
type Disc struct {
	Center orb.Point
	Radius float64
}

// Join is both areas together.
func (a Area) Join(b Area) Area {
	return Area{
		slices.Concat(a.Polygons, b.Polygons),
		slices.Concat(a.Strips, b.Strips),
		slices.Concat(a.Discs, b.Discs),
	}
}

// Empty reports whether the area has no part at all.
func (a Area) Empty() bool { return len(a.Polygons)+len(a.Strips)+len(a.Discs) == 0 }

// Bounds is the smallest box of the area with the widths of its strips and the
// radii of its discs. Where a part reaches over the antimeridian the box goes
// round the world. An empty area has the zero box.
func (a Area) Bounds() tiles.Box {
	b := tiles.Box{West: math.Inf(1), South: math.Inf(1), East: math.Inf(-1), North: math.Inf(-1)}
	for _, polygon := range a.Polygons {
		for _, ring := range polygon {
			for _, p := range ring {
				b = b.Join(around(p, 0))
			}
		}
	}
	for _, s := range a.Strips {
		for _, p := range s.Line {
			b = b.Join(around(p, s.HalfWidth))
		}
	}
	for _, d := range a.Discs {
		b = b.Join(around(d.Center, d.Radius))
	}
	switch {
	case b.West > b.East:
		return tiles.Box{}
	case b.West < -180 || b.East > 180:
		b.West, b.East = -180, 180
	}
	b.South, b.North = max(b.South, -90), min(b.North, 90)
	return b
}

// around is the box of a disc; its west and east may leave ±180.
func around(p orb.Point, radius float64) tiles.Box {
	e := ellipseAt(p, radius)
	west, north := tiles.Unproject(e.x-e.a, e.y-e.b)
	east, south := tiles.Unproject(e.x+e.a, e.y+e.b)
	return tiles.Box{West: west, South: south, East: east, North: north}
}

// WGS 84 (EPSG:7030): semi-major axis in meters, flattening, and what follows.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
	semiMinor  = semiMajor * (1 - flattening)
	eccentric2 = flattening * (2 - flattening)
)

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }

// radii are the radii of curvature in meters at a latitude in radians: along
// the meridian and across it.
func radii(lat float64) (meridian, across float64) {
	s := math.Sin(lat)
	w := 1 - eccentric2*s*s
	return semiMajor * (1 - eccentric2) / (w * math.Sqrt(w)), semiMajor / math.Sqrt(w)
}

// ellipse is a disc on the ground as it lies in the world square.
type ellipse struct{ x, y, a, b float64 } // center, half axes east-west and north-south

// nearPole keeps the northern and southern end of a disc off the poles, where
// Web Mercator has no place for them.
const nearPole = 89.9

// ellipseAt projects a ground disc. Web Mercator stretches more towards the
// pole, so the center of the shape lies a little poleward of the place. Up to
// [MaxReach] and latitude 70 the shape is within 0.1 % of the radius.
func ellipseAt(p orb.Point, radius float64) ellipse {
	lat := min(max(p[1], -tiles.MaxLatitude), tiles.MaxLatitude)
	x, y := tiles.Project(p[0], lat)
	if radius <= 0 {
		return ellipse{x: x, y: y}
	}
	phi := radians(lat)
	meridian, across := radii(phi)
	step := radius / meridian * 180 / math.Pi
	_, north := tiles.Project(0, min(lat+step, nearPole))
	_, south := tiles.Project(0, max(lat-step, -nearPole))
	turn := math.Sin(min(radius/across, math.Pi/2)) / math.Cos(phi)
	return ellipse{
		x: x, y: (north + south) / 2,
		a: math.Asin(min(turn, 1)) / (2 * math.Pi),
		b: (south - north) / 2,
	}
}

// SquareMeters is the ground area on the ellipsoid, each part counted for
// itself: parts that overlap count twice, bends of a strip too. Polygons are
// within a millionth (their edges being straight in longitude and latitude),
// strips and discs as if the ground were flat.
func (a Area) SquareMeters() float64 {
	sum := 0.0
	for _, polygon := range a.Polygons {
		for i, ring := range polygon {
			s := math.Abs(ringArea(ring))
			if i > 0 {
				s = -s
			}
			sum += s
		}
	}
	for _, s := range a.Strips {
		for i := 1; i < len(s.Line); i++ {
			sum += geodesic.Distance(s.Line[i-1], s.Line[i]) * 2 * s.HalfWidth
		}
		sum += math.Pi * s.HalfWidth * s.HalfWidth
	}
	for _, d := range a.Discs {
		sum += math.Pi * d.Radius * d.Radius
	}
	return sum
}

// ringArea is the area of a ring in square meters, signed by its winding:
// Green's theorem with the authalic integral, three-point Gauss along each edge.
func ringArea(ring orb.Ring) float64 {
	if len(ring) == 0 {
		return 0
	}
	sum, base := 0.0, zone(radians(ring[0][1])) // the base keeps digits for small rings
	for i := 1; i < len(ring); i++ {
		p, q := ring[i-1], ring[i]
		mid, half := radians(p[1]+q[1])/2, radians(q[1]-p[1])/2*math.Sqrt(0.6)
		mean := (5*zone(mid-half) + 8*zone(mid) + 5*zone(mid+half)) / 18
		sum -= (mean - base) * radians(q[0]-p[0])
	}
	return sum
}

// zone is the area between the equator and a latitude, a radian of longitude wide.
func zone(lat float64) float64 {
	s, e := math.Sin(lat), math.Sqrt(eccentric2)
	return semiMinor * semiMinor / 2 * (s/(1-eccentric2*s*s) + math.Atanh(e*s)/e)
}

package area

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

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

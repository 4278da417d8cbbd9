package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"github.com/paulmach/orb/simplify"

	"groundsheet/tiles"
	"groundsheet/tiles/union"
)

const (
	circle      = 64    // edges of a drawn circle: they lie outside it, by 0.12 % of its radius at most
	corners     = 36    // edges of a circle round an end of a line: they lie outside it by 0.39 % at most
	bends       = 18    // the same round a piece's end inside the line: by 1.6 % at most
	stretch     = 256   // positions of a line that are simplified together: the time grows with their square
	drawn       = 0.001 // of the reach, by which a line may be simplified before it is widened by as much more
	drawnBorder = 0.01  // the same for the border of a polygon, whose margin is only drawn
	drawnSteady = 0.01  // like steady, for drawing
)

// Outline is the area grown by margin meters, its parts joined, for drawing
// and for what is computed of it: the grown border is never nearer than the
// reach (margin plus half width or radius), and 0.5 % farther at most, round a
// polygon and in bends 2 %. What has no width and gets no margin is left out. Outer rings run
// counter-clockwise, holes clockwise, and no ring crosses the antimeridian
// (RFC 7946, 3.1.6 and 3.1.9). To decide what lies inside use [Area.Covers].
func (a Area) Outline(margin float64) orb.MultiPolygon {
	if !(margin > 0) {
		margin = 0
	}
	var parts orb.MultiPolygon
	for _, polygon := range a.Polygons {
		for _, ring := range polygon {
			parts = appendWide(parts, orb.LineString(ring), margin, drawnBorder)
		}
	}
	for _, s := range a.Strips {
		parts = appendWide(parts, s.Line, s.HalfWidth+margin, drawn)
	}
	for _, d := range a.Discs {
		parts = appendHull(parts, d.Center, d.Center, d.Radius+margin, circle, circle)
	}
	// The polygons come in last: they are large.
	whole, err := union.Of(a.Polygons, parts)
	if err != nil {
		return append(slices.Clone(a.Polygons), parts...) // overlapping, which draws nearly the same
	}
	return whole
}

// appendWide adds shapes that cover a line widened by reach on both sides. The
// line may move by a part of the reach, which is then widened by as much.
func appendWide(parts orb.MultiPolygon, line orb.LineString, reach, off float64) orb.MultiPolygon {
	if !(reach > 0) || slices.ContainsFunc(line, func(p orb.Point) bool { return !finite(p) }) {
		return parts
	}
	steps, reach := stepsOf(line, reach, off)
	if len(steps) > 1 {
		steps[0].corners, steps[len(steps)-1].corners = corners, corners
	}
	for len(steps) > 1 {
		n := joinable(steps)
		parts = appendBuffer(parts, steps[:n], reach)
		steps = steps[n-1:]
	}
	return parts
}

// piecesOf is how many shapes a line widened by reach is drawn with.
func piecesOf(line orb.LineString, reach float64) (n int) {
	steps, _ := stepsOf(line, reach, drawn)
	for ; len(steps) > 1; n++ {
		steps = steps[joinable(steps)-1:]
	}
	return n
}

// stepsOf is a line in steps that are widened as one, and the reach with what
// the line was moved by.
func stepsOf(line orb.LineString, reach, off float64) ([]vertex, float64) {
	// A degree of latitude is the longest degree there is, so that on the
	// ground the line moves less than this.
	degrees := off * reach / (semiMajor * math.Pi / 180)
	before := len(line)
	if line = simplified(line, degrees); len(line) < before {
		reach *= 1 + off
	}
	var steps []vertex
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		if i == 1 {
			steps = append(steps, newStep(p, reach))
		}
		n := pieces(float64(sway(p, q)) * steady / drawnSteady)
		for j := range n {
			steps = append(steps, newStep(part(p, q, j+1, n), reach))
		}
	}
	return steps, reach
}

// simplified is a line without what moves it by some degrees at most.
func simplified(line orb.LineString, degrees float64) (out orb.LineString) {
	for len(line) > 1 {
		n := min(len(line), stretch)
		part := simplify.DouglasPeucker(degrees).LineString(line[:n].Clone())
		out, line = append(out, part[:len(part)-1]...), line[n-1:]
	}
	return append(out, line...)
}

// mostCorners is how many corners of an outline are drawn while a hand moves it (the
// project's own choice, no source): a browser follows some thousands.
const mostCorners = 4000

// Fewer is an outline, for drawing, with no more corners than a browser draws many
// times a second: a centimeter is left out first, and as much as it takes.
func Fewer(m orb.MultiPolygon) orb.MultiPolygon {
	corners := func(m orb.MultiPolygon) (n int) {
		for _, polygon := range m {
			for _, ring := range polygon {
				n += len(ring)
			}
		}
		return n
	}
	for off := 1e-7; corners(m) > mostCorners && off < 1e-4; off *= 4 { // degrees
		m = simplify.DouglasPeucker(off).MultiPolygon(m.Clone())
	}
	return m
}

// appendHull adds the hull of the discs at both ends, drawn with n and m edges
// that touch them from outside, cut at the antimeridian. An edge lies along the
// way from one to the other, so that the sides are not widened; n and m are even.
func appendHull(parts orb.MultiPolygon, p, q orb.Point, reach float64, n, m int) orb.MultiPolygon {
	if !(reach > 0) || !finite(p) || !finite(q) {
		return parts
	}
	direction, _ := newStep(p, reach).to(newStep(q, reach))
	var points []orb.Point
	for _, end := range []struct {
		at orb.Point
		n  int
	}{{p, n}, {q, m}} {
		e := ellipseAt(end.at, reach/math.Cos(math.Pi/float64(end.n)))
		for i := range end.n {
			sin, cos := math.Sincos(direction + math.Pi/2 + 2*math.Pi*(float64(i)+0.5)/float64(end.n))
			lon, lat := tiles.Unproject(e.x+e.a*cos, e.y+e.b*sin)
			points = append(points, orb.Point{lon, lat})
		}
	}
	for _, polygon := range union.Hull(points) {
		for _, turn := range []float64{-360, 0, 360} {
			parts = appendCut(parts, polygon, turn)
		}
	}
	return parts
}

// appendCut adds what of a convex polygon, turned by some degrees, lies
// between -180 and 180.
func appendCut(parts orb.MultiPolygon, polygon orb.Polygon, turn float64) orb.MultiPolygon {
	polygon = polygon.Clone()
	for i := range polygon[0] {
		polygon[0][i][0] += turn
	}
	world := orb.Bound{Min: orb.Point{-180, -90}, Max: orb.Point{180, 90}}
	b := polygon.Bound()
	switch {
	case b.Max[0] <= -180 || b.Min[0] >= 180:
		return parts
	case b.Min[0] < -180 || b.Max[0] > 180:
		if polygon = clip.Polygon(world, polygon); len(polygon) == 0 {
			return parts
		}
	}
	return append(parts, polygon)
}

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

package brief

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
)

// centerline is a route with its stations: meters along its centerline from its
// first position.
type centerline struct {
	line orb.LineString // each position farther along than the one before
	at   []float64      // the station of each position
	half float64        // meters of the corridor on each side
}

// newCenterlines gives the centerlines of routes. A line that begins where the one before
// ends, with the same width, continues its centerline: files cut routes in pieces.
func newCenterlines(routes []pack.Route) []centerline {
	var all []centerline
	for _, r := range routes {
		n := len(all)
		if n > 0 && all[n-1].half == r.Width/2 && all[n-1].line[len(all[n-1].line)-1] == r.Line[0] {
			all[n-1].extend(r.Line)
			continue
		}
		c := centerline{line: r.Line[:1:1], at: []float64{0}, half: r.Width / 2}
		if c.extend(r.Line); len(c.line) > 1 {
			all = append(all, c)
		}
	}
	return all
}

func (c *centerline) extend(line orb.LineString) {
	for _, p := range line {
		last := len(c.at) - 1
		if station := c.at[last] + geodesic.Distance(c.line[last], p); station > c.at[last] {
			c.line, c.at = append(c.line, p), append(c.at, station)
		}
	}
}

func (c centerline) length() float64 { return c.at[len(c.at)-1] }

// edge is the number of the position at the end of the edge with a station.
func (c centerline) edge(station float64) int {
	i, _ := slices.BinarySearch(c.at, station)
	return min(max(i, 1), len(c.at)-1)
}

// placeAt is the place of a station, in degrees.
func (c centerline) placeAt(station float64) orb.Point {
	i := c.edge(station)
	a, b := c.line[i-1], c.line[i]
	part := min(max((station-c.at[i-1])/(c.at[i]-c.at[i-1]), 0), 1)
	return orb.Point{a[0] + (b[0]-a[0])*part, a[1] + (b[1]-a[1])*part}
}

// across is the line over the route at a station, so many meters to each side:
// its left end, then its right. In a bend it halves the angle.
func (c centerline) across(station, meters float64) (left, right orb.Point) {
	at := c.placeAt(station)
	f := geodesic.At(at)
	before, after := f.Meters(c.placeAt(station-1)), f.Meters(c.placeAt(station+1))
	way := math.Atan2(after[1]-before[1], after[0]-before[0]) + math.Pi/2
	side := orb.Point{meters * math.Cos(way), meters * math.Sin(way)}
	return f.Degrees(side), f.Degrees(orb.Point{-side[0], -side[1]})
}

// arcStep is the most that an arc of a bend turns between two places of its
// hull, in radians.
const arcStep = math.Pi / 12

// hull gives places that have the corridor of a stretch between them: all that
// is nearer to the stretch than to the rest of the route. Meters of a frame.
func (c centerline) hull(f geodesic.Frame, from, to float64) []orb.Point {
	var all []orb.Point
	first, last := c.edge(from), c.edge(to)
	before := 0.0
	for i := first; i <= last; i++ {
		a, b := f.Meters(c.line[i-1]), f.Meters(c.line[i])
		way := math.Atan2(b[1]-a[1], b[0]-a[0])
		switch {
		case i == 1 && from <= 0:
			all = c.arc(all, a, way+math.Pi/2, math.Pi)
		case i > first:
			all = c.bend(all, a, before, way)
		}
		side := orb.Point{-c.half * math.Sin(way), c.half * math.Cos(way)}
		for _, station := range []float64{max(from, c.at[i-1]), min(to, c.at[i])} {
			at := f.Meters(c.placeAt(station))
			all = append(all, orb.Point{at[0] + side[0], at[1] + side[1]}, orb.Point{at[0] - side[0], at[1] - side[1]})
		}
		if i == len(c.at)-1 && to >= c.at[i] {
			all = c.arc(all, b, way-math.Pi/2, math.Pi)
		}
		before = way
	}
	return all
}

// bend is the outer side of the corridor where its direction changes.
func (c centerline) bend(all []orb.Point, at orb.Point, before, after float64) []orb.Point {
	by := math.Remainder(after-before, 2*math.Pi)
	if by > 0 {
		return c.arc(all, at, before-math.Pi/2, by)
	}
	return c.arc(all, at, before+math.Pi/2, by)
}

// arc adds places just outside an arc of half the corridor's width.
func (c centerline) arc(all []orb.Point, at orb.Point, from, by float64) []orb.Point {
	n := math.Ceil(math.Abs(by) / arcStep)
	radius := c.half / math.Cos(arcStep/2)
	for i := 0.0; i <= n && n > 0; i++ {
		a := from + by*i/n
		all = append(all, orb.Point{at[0] + radius*math.Cos(a), at[1] + radius*math.Sin(a)})
	}
	return all
}

// stationText writes a station: full hundreds of feet, or kilometers, before the
// plus. Common practice, no source.
func stationText(meters float64, units string) string {
	unit, whole, digits := 1.0, 1000, 3
	if units == "us" {
		unit, whole, digits = measure.Foot, 100, 2
	}
	n := int(math.Round(meters / unit))
	return fmt.Sprintf("%d+%0*d", n/whole, digits, n%whole)
}

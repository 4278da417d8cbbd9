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

package vectortile

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"groundsheet/tiles"
)

// gridPoint is a position on the grid of a tile: column and row.
type gridPoint [2]int32

// clipper clips shapes to one tile and puts them on its grid.
type clipper struct {
	*Index
	box     orb.Bound
	scale   float64 // grid steps to the world square's side
	extent  int
	coarser float64 // positions nearer to each other than this are one, in grid steps
}

func newClipper(x *Index, t tiles.ID) *clipper {
	extent := Extent(int(t.Z))
	c := &clipper{Index: x, box: box(t), extent: extent, scale: math.Ldexp(float64(extent), int(t.Z))}
	if t.Z < ExactZoom || x.coarse {
		c.coarser = float64(extent) / TileSize / 2 // half a pixel
	}
	return c
}

// place rounds to the grid: no position moves by more than half a step either way.
func (c *clipper) quantize(p orb.Point) gridPoint {
	at := func(v, from float64) int32 { return int32(math.Round((v - from) * c.scale)) }
	return gridPoint{at(p[0], c.box.Min[0]), at(p[1], c.box.Min[1])}
}

// piece is the part of a mark within a tile: a point, or lines, or an inside with
// its outline as lines.
type piece struct {
	point []gridPoint
	lines [][]gridPoint
	faces [][]gridPoint // rings without their last position; an outer one before its holes
}

func (c *clipper) piece(g orb.Geometry) piece {
	switch g := g.(type) {
	case orb.Point:
		return piece{point: []gridPoint{c.quantize(g)}}
	case orb.LineString:
		lines := c.lines(g)
		if len(lines) == 0 && c.box.Contains(g[0]) {
			return piece{point: []gridPoint{c.quantize(g[0])}} // shorter than a step: still there
		}
		return piece{lines: lines}
	case orb.Polygon:
		return c.outline(g)
	}
	return piece{}
}

func (c *clipper) outline(g orb.Polygon) (p piece) {
	for _, ring := range g {
		p.lines = append(p.lines, c.lines(orb.LineString(ring))...)
	}
	p.faces = c.faces(g)
	if len(p.lines)+len(p.faces) == 0 && c.box.Contains(g[0][0]) {
		p.point = []gridPoint{c.quantize(g[0][0])}
	}
	return p
}

func (c *clipper) lines(g orb.LineString) (all [][]gridPoint) {
	for _, part := range clip.LineString(c.box, g) {
		if line := c.path(part); len(line) > 1 {
			all = append(all, line)
		}
	}
	return all
}

// path puts positions on the grid and leaves out those too near to the one
// before; the last always stays.
func (c *clipper) path(g []orb.Point) []gridPoint {
	line := make([]gridPoint, 0, len(g))
	for i, p := range g {
		s := c.quantize(p)
		n := len(line)
		switch {
		case n == 0:
		case s == line[n-1]:
			continue
		case i < len(g)-1 && within(s, line[n-1], c.coarser):
			continue
		}
		line = append(line, s)
	}
	return line
}

func within(a, b gridPoint, distance float64) bool {
	x, y := float64(a[0])-float64(b[0]), float64(a[1])-float64(b[1])
	return x*x+y*y < distance*distance
}

// faces gives the inside of a polygon within the tile, outer rings running
// clockwise on the screen and holes the other way (Mapbox Vector Tile 2.1, 4.3.4.4).
func (c *clipper) faces(g orb.Polygon) (all [][]gridPoint) {
	for i, ring := range g {
		r := c.path(clip.Ring(c.box, slices.Clone(ring)))
		if n := len(r); n > 1 && r[0] == r[n-1] {
			r = r[:n-1]
		}
		twice := area(r)
		switch {
		case len(r) > 2 && twice != 0:
			if (twice > 0) != (i == 0) {
				slices.Reverse(r)
			}
			all = append(all, r)
		case i == 0:
			return nil // nothing is left of the outline
		}
	}
	return all
}

// area is twice the area of a ring, positive when it runs clockwise on a
// screen, whose rows grow downwards.
func area(ring []gridPoint) (twice float64) {
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		twice += float64(p[0])*float64(q[1]) - float64(q[0])*float64(p[1])
	}
	return twice
}

// pieces cuts all marks, coarser and coarser until they are few enough positions.
func (c *clipper) pieces(marks []mark) []piece {
	for {
		all, positions := make([]piece, len(marks)), 0
		for i, t := range marks {
			all[i] = c.piece(c.items[t.item].shape)
			for _, path := range slices.Concat(all[i].lines, all[i].faces) {
				positions += len(path)
			}
		}
		pixel := float64(c.extent) / TileSize
		if positions <= maxPositions || c.coarser >= 8*pixel {
			return all
		}
		c.coarser = max(2*c.coarser, pixel/2)
	}
}

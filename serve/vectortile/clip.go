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

// clipped is the part of a shape within a tile, before it is put on the grid.
type clipped struct {
	start orb.Point     // of the shape
	lines [][]orb.Point // of a line, or of outlines
	rings [][]orb.Point // of an outline: an outer one before its holes
}

func (c *clipper) clip(g orb.Geometry) (cut clipped) {
	line := func(l orb.LineString) {
		for _, part := range clip.LineString(c.box, l) {
			cut.lines = append(cut.lines, part)
		}
	}
	switch g := g.(type) {
	case orb.Point:
		cut.start = g
	case orb.LineString:
		cut.start = g[0]
		line(g)
	case orb.Polygon:
		cut.start = g[0][0]
		for _, ring := range g {
			line(orb.LineString(ring))
			cut.rings = append(cut.rings, clip.Ring(c.box, slices.Clone(ring)))
		}
	}
	return cut
}

func (c *clipper) piece(cut clipped) (p piece) {
	for _, part := range cut.lines {
		if line := c.path(part); len(line) > 1 {
			p.lines = append(p.lines, line)
		}
	}
	p.faces = c.faces(cut.rings)
	if len(p.lines)+len(p.faces) == 0 && c.box.Contains(cut.start) {
		p.point = []gridPoint{c.quantize(cut.start)} // shorter than a step: still there
	}
	return p
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
func (c *clipper) faces(rings [][]orb.Point) (all [][]gridPoint) {
	for i, ring := range rings {
		r := c.path(ring)
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
	cuts, all := make([]clipped, len(marks)), make([]piece, len(marks))
	for i, t := range marks {
		cuts[i] = c.clip(c.items[t.item].shape)
	}
	for {
		positions := 0
		for i, cut := range cuts {
			all[i] = c.piece(cut)
			for _, path := range slices.Concat(all[i].lines, all[i].faces) {
				positions += len(path)
			}
		}
		pixel := float64(c.extent) / TileSize
		switch {
		case positions <= maxPositions:
			return all
		case c.coarser >= coarsest*pixel:
			for i := range all {
				all[i].lines = c.once(all[i].lines)
			}
			return all
		}
		c.coarser = max(2*c.coarser, pixel/2)
	}
}

// coarsest is how much coarser lines are drawn at most, in pixels: the width of a line.
const coarsest = 8

// once leaves out of lines what runs from one square to another where they ran before:
// a scribble that covers a tile a hundred times over takes no longer to draw than one
// that covers it once. The squares are as wide as a line is drawn.
func (c *clipper) once(lines [][]gridPoint) (all [][]gridPoint) {
	side := int32(coarsest * c.extent / TileSize)
	drawn := map[[2]gridPoint]bool{}
	for _, line := range lines {
		from := 0 // where the part begins that is not drawn yet
		end := func(to int) {
			if to > from {
				all = append(all, line[from:to+1])
			}
			from = to + 1
		}
		for i := 1; i < len(line); i++ {
			a, b := gridPoint{line[i-1][0] / side, line[i-1][1] / side}, gridPoint{line[i][0] / side, line[i][1] / side}
			if slices.Compare(a[:], b[:]) > 0 {
				a, b = b, a
			}
			if drawn[[2]gridPoint{a, b}] {
				end(i - 1)
				continue
			}
			drawn[[2]gridPoint{a, b}] = true
		}
		end(len(line) - 1)
	}
	return all
}

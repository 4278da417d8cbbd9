package dxf

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// draw puts an entity into the drawing's coordinates and keeps it.
func (r *reader) draw(p *primitive, at place, inside []string) error {
	if p.insert != nil {
		return r.put(p, at, inside)
	}
	const most = 5 * mostPositions // blocks in blocks are drawn again and again
	if r.drawn++; r.drawn > most {
		return tooMany(p.place)
	}
	layer := layerIn(p, at)
	if err := r.count(layer); err != nil {
		return err
	}
	if !r.wanted(layer) {
		return nil
	}
	e := Entity{Layer: layer, Text: p.text, Block: at.block, Values: at.values, Place: p.place, Closed: p.closed && !p.filled}
	to := at.matrix.times(mirrored(p))
	if p.paths == nil {
		q := orb.Point{to.a*p.at[0] + to.b*p.at[1] + to.c, to.d*p.at[0] + to.e*p.at[1] + to.f}
		if !finite(q) {
			return badNumber(p)
		}
		e.Geometry = q
		return r.keep(e, 1)
	}
	var rings []orb.Ring
	n := 0
	for _, path := range p.paths {
		line := flatten(path, p.closed, cmp.Or(r.Tolerance, 0.001)/max(at.scale, 1e-9), mostPositions-r.positions)
		for i, q := range line {
			line[i] = orb.Point{to.a*q[0] + to.b*q[1] + to.c, to.d*q[0] + to.e*q[1] + to.f}
			if !finite(line[i]) {
				return badNumber(p)
			}
		}
		if n += len(line); n > mostPositions {
			return tooMany(p.place)
		}
		rings = append(rings, orb.Ring(line))
	}
	if !p.filled {
		if len(rings[0]) < 2 || length(rings[0]) == 0 {
			r.out.LeftOut["line without a length"]++
			return nil
		}
		e.Geometry = orb.LineString(rings[0])
		return r.keep(e, n)
	}
	if e.Geometry = nest(rings); e.Geometry == nil {
		r.out.LeftOut["filled area without an outline"]++
		return nil
	}
	return r.keep(e, n)
}

func (r *reader) keep(e Entity, positions int) error {
	if r.positions += positions; r.positions > mostPositions {
		return tooMany(e.Place)
	}
	r.out.Entities = append(r.out.Entities, e)
	return nil
}

func badNumber(p *primitive) error {
	return refuse(p.place, "a coordinate is not a finite number", saveAgain)
}

func finite(p orb.Point) bool { return math.Abs(p[0]) < 1e15 && math.Abs(p[1]) < 1e15 }

func length(r orb.Ring) (sum float64) {
	for i := 1; i < len(r); i++ {
		sum += math.Hypot(r[i][0]-r[i-1][0], r[i][1]-r[i-1][1])
	}
	return sum
}

// flatten makes straight pieces of a path with bulges; a closed one ends where it
// begins. It stops at most positions.
func flatten(path []vertex, closed bool, tolerance float64, most int) []orb.Point {
	var line []orb.Point
	for i, v := range path {
		line = append(line, orb.Point{v.x, v.y})
		last := i == len(path)-1
		if last && !closed || v.bulge == 0 || len(line) > most {
			continue
		}
		line = append(line, bulged(v, path[(i+1)%len(path)], tolerance)...)
	}
	if closed && len(line) > 0 && line[0] != line[len(line)-1] {
		line = append(line, line[0])
	}
	return line
}

// bulged is the corners between two vertices on an arc. They lie on the arc, and no
// piece is farther from it than the tolerance: the sagitta of an angle a is
// r (1 - cos a/2).
func bulged(from, to vertex, tolerance float64) (points []orb.Point) {
	dx, dy := to.x-from.x, to.y-from.y
	angle := 4 * math.Atan(from.bulge)
	chord := math.Hypot(dx, dy)
	radius := chord / 2 / math.Abs(math.Sin(angle/2))
	if !(radius > tolerance) || math.IsInf(radius, 0) {
		return nil
	}
	const mostPieces = 4000
	piece := 2 * math.Acos(max(-1, 1-tolerance/radius))
	n := int(min(mostPieces, math.Ceil(math.Abs(angle)/piece)))
	// the center lies on the left of a counter-clockwise arc
	h := chord / 2 / math.Tan(angle/2)
	cx, cy := (from.x+to.x)/2-dy/chord*h, (from.y+to.y)/2+dx/chord*h
	begin := math.Atan2(from.y-cy, from.x-cx)
	for i := 1; i < n; i++ {
		s, c := math.Sincos(begin + angle*float64(i)/float64(n))
		points = append(points, orb.Point{cx + radius*c, cy + radius*s})
	}
	return points
}

// nest makes polygons of rings in any order and direction: one that lies in an odd
// number of others is a hole of the smallest of them.
func nest(rings []orb.Ring) orb.Geometry {
	const mostRings = 1000 // each is tested against each
	rings = slices.DeleteFunc(rings, func(r orb.Ring) bool { return len(r) < 4 || area(r) == 0 })
	if len(rings) > mostRings {
		rings = rings[:mostRings]
	}
	slices.SortStableFunc(rings, func(a, b orb.Ring) int { return cmp.Compare(area(b), area(a)) })
	var polygons orb.MultiPolygon
	home := make([]int, len(rings)) // the polygon of an outer ring
	for i, ring := range rings {
		depth, parent := 0, -1
		for k := range i {
			if inRing(ring[0], rings[k]) {
				depth, parent = depth+1, k
			}
		}
		if home[i] = len(polygons); depth%2 == 1 {
			home[i] = home[parent]
			polygons[home[i]] = append(polygons[home[i]], ring)
			continue
		}
		polygons = append(polygons, orb.Polygon{ring})
	}
	switch len(polygons) {
	case 0:
		return nil
	case 1:
		return polygons[0]
	}
	return polygons
}

func area(r orb.Ring) float64 {
	sum := 0.0
	for i := 1; i < len(r); i++ {
		sum += (r[i-1][0]-r[0][0])*(r[i][1]-r[0][1]) - (r[i][0]-r[0][0])*(r[i-1][1]-r[0][1])
	}
	return math.Abs(sum / 2)
}

func inRing(p orb.Point, r orb.Ring) (inside bool) {
	for i := 1; i < len(r); i++ {
		a, b := r[i-1], r[i]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
			inside = !inside
		}
	}
	return inside
}

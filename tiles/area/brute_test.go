package area

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// TestCoverAgainstClipping judges the cover by another definition: the area
// left of the polygon when it is clipped to a tile. What lies within the
// tolerance of a border is at most a strip of 1e-6 tile round the tile. With CI
// in the environment it judges 10,000 shapes.
func TestCoverAgainstClipping(t *testing.T) {
	const parts = 8
	shapes := 2_000
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		shapes = 10_000
	}
	for part := range parts {
		t.Run(fmt.Sprint("part ", part+1), func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(17, 2026+uint64(part)))
			tested, between := 0, 0
			for range shapes / parts {
				n, m := againstClipping(t, validShape(r), 6+r.IntN(12))
				tested, between = tested+n, between+m
			}
			t.Logf("%d shapes, %d tiles, %d of them in between", shapes/parts, tested, between)
			if tested < 40*shapes/parts || between*500 > tested {
				t.Errorf("of %d tiles %d decided nothing", tested, between)
			}
		})
	}
}

// validShape makes random shapes until one does not cross itself; n is the
// number of tiles across the world it is made for.
func validShape(r *rand.Rand) func(n float64) orb.MultiPolygon {
	return func(n float64) orb.MultiPolygon {
		for {
			polygons := randomShape(r, n)
			if _, err := Polygons(one(polygons)); err == nil {
				return polygons
			}
		}
	}
}

// againstClipping tests the tiles of a shape and those round it. It tells how
// many, and how many of them the test says nothing about.
func againstClipping(t *testing.T, shape func(n float64) orb.MultiPolygon, zoom int) (tested, between int) {
	const most, least = 8e-6, 1e-12
	polygons := shape(math.Ldexp(1, zoom))
	c := cover(Area{Polygons: polygons}, zoom, 0)
	box := columnsRows(c)
	rings := worldRings(polygons, zoom)
	for y := max(box[1], 1) - 1; y <= min(box[3]+1, 1<<zoom-1); y++ {
		inRow := clipRings(rings, 1, float64(y))
		for x := max(box[0], 1) - 1; x <= min(box[2]+1, 1<<zoom-1); x++ {
			id := tiles.ID{Z: uint32(zoom), X: x, Y: y}
			tested++
			switch has, area := c.Has(id), overlap(inRow, x); {
			case area > least && area <= most:
				between++
			case has != (area > least):
				t.Fatalf("tile %v in the cover: %v, but %g of it overlaps %v", id, has, area, polygons)
			}
		}
	}
	return tested, between
}

// randomShape makes stars with holes, slivers, shapes with corners on tile
// borders and corners, neighbors that share an edge, and rings that touch
// themselves and their hole; n tiles a world.
func randomShape(r *rand.Rand, n float64) orb.MultiPolygon {
	cx, cy, size := r.Float64()*n, (0.1+0.8*r.Float64())*n, min(0.4+r.Float64()*5, n/5)
	place := func(x, y float64) orb.Point {
		lon, lat := tiles.Unproject(min(max(x/n, 0), 1), min(max(y/n, 0), 1))
		return orb.Point{lon, lat}
	}
	star := func(corners int, from, to float64) orb.Ring {
		var ring orb.Ring
		for i := range corners {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.8*r.Float64()) / float64(corners))
			d := size * (from + (to-from)*r.Float64())
			ring = append(ring, place(cx+d*cos, cy+d*sin))
		}
		return append(ring, ring[0])
	}
	switch r.IntN(6) {
	case 0:
		return orb.MultiPolygon{{star(3+r.IntN(12), 0.5, 1), star(3+r.IntN(5), 0.1, 0.3)}}
	case 1: // sliver
		sin, cos := math.Sincos(2 * math.Pi * r.Float64())
		wide := size * math.Pow(10, -4*r.Float64())
		p, q := place(cx, cy), place(cx+size*cos, cy+size*sin)
		return orb.MultiPolygon{{{p, q, place(cx+size*cos-wide*sin, cy+size*sin+wide*cos), p}}}
	case 2: // corners on borders and on quarters between them
		var ring orb.Ring
		for range 3 + r.IntN(6) {
			ring = append(ring, place(math.Floor(cx)+float64(r.IntN(17))/4, math.Floor(cy)+float64(r.IntN(17))/4))
		}
		return orb.MultiPolygon{{append(ring, ring[0])}}
	case 3: // neighbors
		a, b := place(cx, cy-size), place(cx, cy+size)
		return orb.MultiPolygon{{{a, b, place(cx-size, cy), a}}, {{a, place(cx+size, cy), b, a}}}
	case 4: // a ring that touches itself in the middle, and a hole that touches it there
		m := place(cx, cy)
		fan := func(from, to, reach float64) (ring orb.Ring) {
			for i := range 2 + r.IntN(8) {
				sin, cos := math.Sincos(from + (to-from)*(float64(i)+r.Float64())/10)
				d := size * reach * (0.5 + 0.5*r.Float64())
				ring = append(ring, place(cx+d*cos, cy+d*sin))
			}
			return append(append(orb.Ring{m}, ring...), m)
		}
		return orb.MultiPolygon{{append(fan(0, 2, 1), fan(3, 5, 1)[1:]...), fan(0.2, 0.7, 0.1)}}
	}
	return orb.MultiPolygon{{star(3+r.IntN(40), 0.1, 1)}}
}

// worldRings are the rings in tiles, with places along each edge so that it
// is straight in longitude and latitude. Holes are marked.
func worldRings(polygons orb.MultiPolygon, zoom int) (rings []worldRing) {
	n := math.Ldexp(1, zoom)
	for _, polygon := range polygons {
		for k, ring := range polygon {
			w := worldRing{hole: k > 0}
			for i := 1; i < len(ring); i++ {
				p, q := ring[i-1], ring[i]
				steps := max(1, int(math.Sqrt(sag(p, q)*n/1e-7)))
				for j := range steps {
					s := float64(j) / float64(steps)
					x, y := tiles.Project(p[0]+(q[0]-p[0])*s, p[1]+(q[1]-p[1])*s)
					w.points = append(w.points, orb.Point{x * n, y * n})
				}
			}
			rings = append(rings, w)
		}
	}
	return rings
}

// sag is how far the middle of an edge lies from the middle of a line that is
// straight on the map, in the world square.
func sag(p, q orb.Point) float64 {
	_, y0 := tiles.Project(p[0], p[1])
	_, y1 := tiles.Project(q[0], q[1])
	_, y := tiles.Project((p[0]+q[0])/2, (p[1]+q[1])/2)
	return math.Abs(y - (y0+y1)/2)
}

type worldRing struct {
	points []orb.Point
	hole   bool
}

// clipRings clips every ring to a row (axis 1) or a column (axis 0) of tiles
// by Sutherland and Hodgman, counted from its border.
func clipRings(rings []worldRing, axis int, from float64) []worldRing {
	clipped := make([]worldRing, 0, len(rings))
	for _, r := range rings {
		points := make([]orb.Point, len(r.points))
		for i, p := range r.points {
			points[i] = p
			points[i][axis] -= from
		}
		points = clipHalf(points, func(p orb.Point) float64 { return p[axis] })
		points = clipHalf(points, func(p orb.Point) float64 { return 1 - p[axis] })
		if len(points) > 0 {
			clipped = append(clipped, worldRing{points, r.hole})
		}
	}
	return clipped
}

// overlap is the part of the tile in column x that the rings of a row cover.
func overlap(inRow []worldRing, x uint32) float64 {
	sum := 0.0
	for _, r := range clipRings(inRow, 0, float64(x)) {
		twice := 0.0
		for i, p := range r.points {
			q := r.points[(i+1)%len(r.points)]
			twice += p[0]*q[1] - p[1]*q[0]
		}
		if r.hole {
			sum -= math.Abs(twice) / 2
		} else {
			sum += math.Abs(twice) / 2
		}
	}
	return sum
}

// clipHalf keeps what has a depth of 0 or more.
func clipHalf(points []orb.Point, depth func(orb.Point) float64) []orb.Point {
	kept := make([]orb.Point, 0, len(points)+2)
	for i, q := range points {
		p := points[(i+len(points)-1)%len(points)]
		dp, dq := depth(p), depth(q)
		if dp < 0 != (dq < 0) {
			t := dp / (dp - dq)
			kept = append(kept, orb.Point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])})
		}
		if dq >= 0 {
			kept = append(kept, q)
		}
	}
	return kept
}

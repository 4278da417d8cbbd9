//go:build outside

package area

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
)

// evenOddTiles is the part of each tile that lies inside rings by the even-odd
// rule, for rings that may touch and cross themselves; rings are in tiles. It
// is another definition than the cover's: each row is cut at the height of
// every position and of every crossing of a column's border, and between two
// such cuts the lengths inside are summed along the line in the middle.
func evenOddTiles(rings []worldRing, zoom int) map[tiles.ID]float64 {
	byRow := map[int][]edge{}
	for _, ring := range rings {
		for i, p := range ring.points {
			q := ring.points[(i+1)%len(ring.points)]
			e := newEdge(p[0], p[1], q[0], q[1])
			for row := int(math.Floor(e.y0)); row <= int(math.Floor(e.y1)); row++ {
				byRow[row] = append(byRow[row], e)
			}
		}
	}
	found := map[tiles.ID]float64{}
	for row, edges := range byRow {
		cuts := rowCuts(row, edges)
		for i := 1; i < len(cuts); i++ {
			if height := cuts[i] - cuts[i-1]; height > 1e-12 {
				addInside(found, edges, zoom, row, (cuts[i]+cuts[i-1])/2, height)
			}
		}
	}
	return found
}

// rowCuts is the heights between which no edge of a row begins, ends or enters
// another column.
func rowCuts(row int, edges []edge) []float64 {
	top, bottom := float64(row), float64(row+1)
	cuts := []float64{top, bottom}
	for _, e := range edges {
		cuts = append(cuts, e.y0, e.y1)
		if e.x0 == e.x1 {
			continue
		}
		for c := math.Ceil(min(e.x0, e.x1)); c <= max(e.x0, e.x1); c++ {
			cuts = append(cuts, e.y0+(e.y1-e.y0)*(c-e.x0)/(e.x1-e.x0))
		}
	}
	cuts = slices.DeleteFunc(cuts, func(y float64) bool { return !(y >= top && y <= bottom) })
	slices.Sort(cuts)
	return cuts
}

// addInside adds what is inside along a line at height y.
func addInside(found map[tiles.ID]float64, edges []edge, zoom, row int, y, height float64) {
	var x []float64
	for _, e := range edges {
		if e.y0 <= y && y < e.y1 {
			x = append(x, e.at(y))
		}
	}
	slices.Sort(x)
	for j := 1; j < len(x); j += 2 {
		for c := math.Floor(x[j-1]); c < x[j]; c++ {
			if long := min(x[j], c+1) - max(x[j-1], c); long > 0 {
				found[tiles.ID{Z: uint32(zoom), X: uint32(c), Y: uint32(row)}] += long * height
			}
		}
	}
}

// onMap are the rings in tiles with edges that are straight on the map, as the
// libraries take them.
func onMap(polygons orb.MultiPolygon, zoom int) (rings []worldRing) {
	n := math.Ldexp(1, zoom)
	for _, polygon := range polygons {
		for k, ring := range polygon {
			w := worldRing{hole: k > 0}
			for _, p := range ring[:len(ring)-1] {
				x, y := tiles.Project(p[0], p[1])
				w.points = append(w.points, orb.Point{x * n, y * n})
			}
			rings = append(rings, w)
		}
	}
	return rings
}

// inTile is the part of one tile that lies inside the rings, even-odd.
func inTile(rings []worldRing, id tiles.ID) float64 {
	cut := clipRings(clipRings(rings, 1, float64(id.Y)), 0, float64(id.X))
	// Clipped rings run along the tile's borders where they lie outside; that
	// changes nothing inside, where the lines of the sweep lie.
	sum := 0.0
	for _, part := range evenOddTiles(cut, 0) {
		sum += part
	}
	return sum
}

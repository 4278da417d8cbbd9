package brief

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// mostHatches keeps a face that fills a page from being millions of strokes.
const mostHatches = 2000

// hatch fills rings with parallel strokes: angle in degrees from east counter-
// clockwise, gap in millimetres. A stroke is inside where an odd number of edges
// lies before it.
func hatch(rings []orb.Ring, angle, gap float64) [][]orb.Point {
	if gap <= 0 {
		return nil
	}
	sin, cos := math.Sincos(angle * math.Pi / 180)
	turn := func(p orb.Point) orb.Point { return orb.Point{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos} }
	back := func(p orb.Point) orb.Point { return orb.Point{p[0]*cos + p[1]*sin, -p[0]*sin + p[1]*cos} }
	low, high := math.Inf(1), math.Inf(-1)
	var turned []orb.Ring
	for _, ring := range rings {
		var r orb.Ring
		for _, p := range ring {
			q := turn(p)
			r = append(r, q)
			low, high = min(low, q[1]), max(high, q[1])
		}
		turned = append(turned, r)
	}
	if (high-low)/gap > mostHatches || math.IsInf(low, 0) {
		return nil
	}
	var all [][]orb.Point
	for y := math.Ceil(low/gap) * gap; y < high; y += gap {
		at := meets(turned, y)
		for i := 0; i+1 < len(at); i += 2 {
			all = append(all, []orb.Point{back(orb.Point{at[i], y}), back(orb.Point{at[i+1], y})})
		}
	}
	return all
}

// meets gives where edges cross a level line, from the left.
func meets(rings []orb.Ring, y float64) []float64 {
	var at []float64
	for _, r := range rings {
		for i := 1; i < len(r); i++ {
			if a, b := r[i-1], r[i]; (a[1] <= y) != (b[1] <= y) {
				at = append(at, a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]))
			}
		}
	}
	slices.Sort(at)
	return at
}

package brief

import (
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
)

// strip is a stretch of a course on paper, turned so that its chord runs to the
// right.
type strip struct {
	view
	of            *course
	route         int     // the number of its course; 0 = there is one alone
	from, to      float64 // stations: its match lines, or an end of the course
	before, after int     // numbers of the strips that go on; 0 = the course ends
	margin        float64 // metres round the corridor that are surely on it
}

// knife cuts courses into strips of one size.
type knife struct {
	scale  float64
	on     box     // of a strip
	margin float64 // metres round the corridor that a strip has to show
	even   float64 // metres: match lines stand at multiples of it where they can
	most   int     // strips
}

// Layout of strips, the project's own choice. Millimetres on paper.
const (
	lap       = 8.0 // shown beyond each match line, at least
	leastPart = 2.0 // of a course on a strip
)

// Match lines stand at round stations: of 25 ft, or 10 m.
func evenStations(units string) float64 {
	if units == "us" {
		return 25 * measure.Foot
	}
	return 10
}

// cut cuts courses; ok is false when a strip cannot hold the corridor with its
// margin, or it takes too many.
func (k knife) cut(courses []course) (all []strip, ok bool) {
	for i := range courses {
		c := &courses[i]
		some, ok := k.cutOne(c, math.Inf(1))
		if !ok || len(all)+len(some) > k.most {
			return nil, false
		}
		// Once more, so that the last is no sliver.
		limit := math.Ceil(c.length()/float64(len(some))/k.even) * k.even
		if again, ok := k.cutOne(c, limit); ok && len(again) <= len(some) {
			some = again
		}
		for j := range some {
			some[j].of, some[j].number = c, len(all)+1
			if len(courses) > 1 {
				some[j].route = i + 1
			}
			if j > 0 {
				some[j].before = len(all)
			}
			if j < len(some)-1 {
				some[j].after = len(all) + 2
			}
			all = append(all, some[j])
		}
	}
	return all, true
}

// cutOne takes strips of a course as long as they fit, and no longer than limit
// in metres.
func (k knife) cutOne(c *course, limit float64) ([]strip, bool) {
	limit = min(limit, (k.on.W-2*lap)*k.scale/1000)
	if c.length()/limit > float64(k.most) {
		return nil, false
	}
	var all []strip
	for from := 0.0; from < c.length(); {
		s, fits := k.longest(c, from, min(from+limit, c.length()))
		if !fits || len(all) == k.most {
			return nil, false
		}
		all = append(all, s)
		from = s.to
	}
	return all, true
}

// longest is a strip that begins at a station and goes as far as it can; in
// bends it may be found shorter than it could be.
func (k knife) longest(c *course, from, to float64) (strip, bool) {
	best, fits := k.lay(c, from, to)
	if fits && to == c.length() {
		return best, true
	}
	if !fits {
		low, high := from+min(leastPart*k.scale/1000, to-from), to
		if best, fits = k.lay(c, from, low); !fits {
			return best, false
		}
		for high-low > 0.01 {
			half := (low + high) / 2
			if s, fits := k.lay(c, from, half); fits {
				best, low = s, half
			} else {
				high = half
			}
		}
	}
	even := math.Floor(best.to/k.even+1e-9) * k.even
	if even-from > (best.to-from)/2 {
		if s, fits := k.lay(c, from, even); fits {
			return s, true
		}
	}
	return best, true
}

// lay turns a stretch by its chord, and tells whether a strip holds it.
func (k knife) lay(c *course, from, to float64) (strip, bool) {
	start, end := c.place(from), c.place(to)
	f := geodesic.At(orb.Point{(start[0] + end[0]) / 2, (start[1] + end[1]) / 2})
	a, b := f.Metres(start), f.Metres(end)
	way := math.Atan2(b[1]-a[1], b[0]-a[0])
	low, high := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	for _, p := range c.hull(f, from, to) {
		p = turned(p, way)
		low = orb.Point{min(low[0], p[0]), min(low[1], p[1])}
		high = orb.Point{max(high[0], p[0]), max(high[1], p[1])}
	}
	middle := f.Degrees(turned(orb.Point{(low[0] + high[0]) / 2, (low[1] + high[1]) / 2}, -way))
	v := newView(0, middle, k.scale, k.on)
	v.turn = way
	m := k.scale / 1000
	fits := high[0]-low[0] <= (k.on.W-2*lap)*m+1e-6 && high[1]-low[1]+2*k.margin <= k.on.H*m+1e-6
	return strip{view: v, from: from, to: to, margin: k.margin}, fits
}

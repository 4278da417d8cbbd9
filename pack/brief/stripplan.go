package brief

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// stripPlan is how routes are laid out on paper.
type stripPlan struct {
	scale  float64
	margin float64 // meters round the corridor that each strip surely shows
	rows   int     // strips on a page
	strips []strip
}

func (p stripPlan) pages() int { return (len(p.strips) + p.rows - 1) / p.rows }

// Layout of pages of strips, in millimeters, and how much of a strip's height is
// kept for bends. The project's own choice.
const (
	mostStacked = 3
	band        = 10.0 // above a strip: what it is
	rowGap      = 2.0
	forBends    = 0.1
)

// usefulScales are the largest and the smallest scale by which a crew can place a
// reading on a strip: 1 in = 40 ft to 100 ft, or 1:500 to 1:1000. The
// project's own choice, no source.
func usefulScales(units string) (first, last float64) {
	if units == "us" {
		return 480, 1200
	}
	return 500, 1000
}

// rowBox is the place of a strip on a page, below its band.
func rowBox(on box, row, rows int) box {
	high := (on.H - rowGap*float64(rows-1)) / float64(rows)
	return box{on.X, on.Y + float64(row)*(high+rowGap) + band, on.W, high - band}
}

// planStrips cuts the routes at a scale, with as many strips on a page as make
// the fewest pages. ok is false when the corridor does not fit. The margin gives
// way to it, where only one is on a page.
func (s packData) planStrips(scale float64, on box) (best stripPlan, ok bool) {
	widest := 0.0
	for _, c := range s.routes {
		widest = max(widest, c.half)
	}
	for rows := 1; rows <= mostStacked; rows++ {
		b := rowBox(on, 0, rows)
		shown := min(s.about.MarginM, b.H*scale/1000*(1-forBends)/2-widest)
		if shown < 0 || rows > 1 && shown < best.margin {
			break
		}
		all, cut := stripCutter{scale, b, shown, roundStations(s.about.Units), mostSheets}.cut(s.routes)
		p := stripPlan{scale, shown, rows, all}
		if !cut || ok && p.pages() >= best.pages() {
			continue
		}
		for i := range p.strips {
			p.strips[i].on = rowBox(on, i%rows, rows)
		}
		best, ok = p, true
	}
	return best, ok
}

// chooseStrips takes the largest useful scale at which corridor and margin fit and
// the strips are not too many. Where there is none the margin gives way first,
// then the scale.
func (s packData) chooseStrips(on box) (stripPlan, bool) {
	if len(s.routes) == 0 {
		return stripPlan{}, false
	}
	first, last := usefulScales(s.about.Units)
	for _, r := range []struct {
		from, to float64
		whole    bool // the margin is shown whole
	}{{first, last, true}, {last, math.Inf(1), false}} {
		for _, n := range scales(s.about.Units) {
			if n < r.from || n > r.to {
				continue
			}
			if p, ok := s.planStrips(n, on); ok && (!r.whole || p.margin == s.about.MarginM) {
				return p, true
			}
		}
	}
	return stripPlan{}, false
}

// strips are those of the stated scale, else of a chosen one. There are none where
// the pack names no route, or no scale fits.
func (s packData) strips(scale float64, on box) (stripPlan, error) {
	chosen, any := s.chooseStrips(on)
	if !any || scale == 0 {
		return chosen, nil
	}
	if p, ok := s.planStrips(scale, on); ok {
		return p, nil
	}
	return stripPlan{}, &fault.Fault{
		Kind: Misuse,
		Detail: fmt.Sprintf("at scale %s a strip of paper cannot hold the corridor, or it takes more than %d strips",
			scaleWords(scale, s.about.Units), mostSheets),
		Remedy: fmt.Sprintf("leave the scale out, or use 1:%.0f", chosen.scale),
	}
}

// stripSection says how the corridor was cut.
func (s packData) stripSection(l layout) []Section {
	p := l.plan
	if len(p.strips) == 0 {
		return nil
	}
	long := 0.0
	for _, c := range s.routes {
		long += c.length()
	}
	notes := []string{words.Say("brief.strips", "n", len(p.strips), "routes", len(s.routes), "long", s.in(long),
		"scale", scaleWords(p.scale, s.about.Units))}
	switch shown, all := s.in(p.margin), s.in(s.about.MarginM); {
	case p.margin < s.about.MarginM:
		notes = append(notes, words.Say("brief.strips_cut", "margin", all, "shown", shown))
	case s.about.MarginM > 0:
		notes = append(notes, words.Say("brief.strips_margin", "margin", all))
	}
	if !l.asked {
		notes = append(notes, words.Say("brief.strips_chosen", "most", mostSheets))
	}
	if len(l.plain) > 0 {
		notes = append(notes, words.Say("brief.strips_apart", "n", len(l.plain),
			"scale", scaleWords(l.plain[0].scale, s.about.Units)))
	}
	notes = append(notes, words.Say("brief.stations", "zero", stationText(0, s.about.Units), "step", s.stationStep()))
	return []Section{{Title: words.Say("brief.strips_title"), Notes: notes}}
}

// stationStep explains how stations are written.
func (s packData) stationStep() string {
	d := 100.0
	if s.about.Units == "us" {
		d *= measure.Foot
	}
	return words.Say("brief.station_step", "station", stationText(d, s.about.Units), "long", s.in(d))
}

// strip is a stretch of a route on paper, turned so that its chord runs to the
// right.
type strip struct {
	view
	of            *centerline
	route         int     // of the pack; 0 = the only one
	from, to      float64 // stations: its match lines, or an end of the route
	before, after int     // numbers of the strips that continue it; 0 = the route ends
	margin        float64 // meters round the corridor that are surely on it
}

// stripCutter cuts routes into strips of one size.
type stripCutter struct {
	scale  float64
	on     box     // of a strip
	margin float64 // meters round the corridor that a strip has to show
	even   float64 // meters: match lines are at multiples of it where possible
	most   int     // strips
}

// Layout of strips, the project's own choice. Millimeters on paper.
const (
	stripOverlap = 8.0 // shown beyond each match line, at least
	minStretch   = 2.0 // of a route on a strip
)

// roundStations is the distance between stations for match lines: 25 ft, or 10 m.
func roundStations(units string) float64 {
	if units == "us" {
		return 25 * measure.Foot
	}
	return 10
}

// cut cuts routes; ok is false when a strip cannot hold the corridor with its
// margin, or it takes too many.
func (k stripCutter) cut(courses []centerline) (all []strip, ok bool) {
	for i := range courses {
		c := &courses[i]
		some, ok := k.cutRoute(c, math.Inf(1))
		if !ok || len(all)+len(some) > k.most {
			return nil, false
		}
		// Once more, so that the last is no sliver.
		limit := math.Ceil(c.length()/float64(len(some))/k.even) * k.even
		if again, ok := k.cutRoute(c, limit); ok && len(again) <= len(some) {
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

// cutRoute cuts a route into strips as long as they fit, and no longer than limit
// in meters.
func (k stripCutter) cutRoute(c *centerline, limit float64) ([]strip, bool) {
	limit = min(limit, (k.on.W-2*stripOverlap)*k.scale/1000)
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

// longest is a strip that begins at a station and is as long as it can be; in bends
// it may be shorter.
func (k stripCutter) longest(c *centerline, from, to float64) (strip, bool) {
	best, fits := k.fit(c, from, to)
	if fits && to == c.length() {
		return best, true
	}
	if !fits {
		low, high := from+min(minStretch*k.scale/1000, to-from), to
		if best, fits = k.fit(c, from, low); !fits {
			return best, false
		}
		for high-low > 0.01 {
			half := (low + high) / 2
			if s, fits := k.fit(c, from, half); fits {
				best, low = s, half
			} else {
				high = half
			}
		}
	}
	even := math.Floor(best.to/k.even+1e-9) * k.even
	if even-from > (best.to-from)/2 {
		if s, fits := k.fit(c, from, even); fits {
			return s, true
		}
	}
	return best, true
}

// fit turns a stretch by its chord, and reports whether it fits on a strip.
func (k stripCutter) fit(c *centerline, from, to float64) (strip, bool) {
	start, end := c.placeAt(from), c.placeAt(to)
	f := geodesic.At(orb.Point{(start[0] + end[0]) / 2, (start[1] + end[1]) / 2})
	a, b := f.Meters(start), f.Meters(end)
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
	fits := high[0]-low[0] <= (k.on.W-2*stripOverlap)*m+1e-6 && high[1]-low[1]+2*k.margin <= k.on.H*m+1e-6
	return strip{view: v, from: from, to: to, margin: k.margin}, fits
}

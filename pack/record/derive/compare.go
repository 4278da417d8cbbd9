package derive

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// Comparison holds something that was found beside what is recorded of the same
// utility: old and new, the difference, and how far off both may be together. Lengths are
// meters; nil means not known, or not stated.
type Comparison struct {
	Found      int     // which feature was found
	Line       Line    // the nearest recorded line
	Overlay    string  // title of its record
	OffM       float64 // from that line to the found place; of a found line, where it is farthest
	OffDoubtM  *float64
	Old        Depth // of the recorded line there
	NewM       *float64
	NewOf      string // as in [Depth]
	DeeperM    *float64
	DepthDoubt *float64 // of the difference
}

// Fit is what a comparison says.
type Fit string

// What a difference is to the doubts that are stated of both.
const (
	Fits    Fit = "fits"      // no more than both may be off
	Differs Fit = "differs"   // more than both may be off
	Unclear Fit = "not known" // how far off they may be is not stated, or too much is missing to tell
)

// Place judges the places.
func (c Comparison) Place() Fit { return fit(c.OffM, c.OffDoubtM) }

// Depth judges the depths; "" where there is nothing to compare.
func (c Comparison) Depth() Fit {
	if c.DeeperM == nil {
		return ""
	}
	return fit(math.Abs(*c.DeeperM), c.DepthDoubt)
}

func fit(off float64, doubt *float64) Fit {
	switch {
	case doubt == nil:
		return Unclear
	case off <= *doubt:
		return Fits
	}
	return Differs
}

// farthestPair is how far from a recorded line something that was found may lie and
// still be held beside it, in meters: as far as a reading may lie from the line it names.
const farthestPair = maxJoin

// Compare holds each feature that was found beside the nearest recorded line of the same
// utility within 10 m. gap is as in [Options]. What lies beside no line is in no result.
func Compare(found record.Overlay, recorded []record.Overlay, gap float64) (all []Comparison) {
	var lines []Line
	titles := map[string]string{}
	for _, o := range recorded {
		if o.Kind.Code != found.Kind.Code {
			continue
		}
		made, _ := makeLines(o, "")
		lines = append(lines, made...)
		titles[o.ID] = o.Title
	}
	if len(lines) == 0 {
		return nil
	}
	if gap == 0 {
		gap = MostGap
	}
	index := newEdgeIndex(lines)
	for i, f := range found.Features {
		c, at, ok := index.beside(positionsOf(f.Geometry))
		if !ok {
			continue
		}
		c.Found, c.Overlay = i, titles[c.Line.Overlay]
		p := f.Properties
		c.OffDoubtM = sum(c.Line.AccuracyM, found.AccuracyOf(p))
		c.Old = c.Line.depthAt(at, gap)
		c.NewM, c.NewOf = record.Number(p, "depth_m"), partOf(f, found)
		if c.NewM != nil && c.Old.M != nil && (c.NewOf == c.Old.Of || c.NewOf == "" || c.Old.Of == "") {
			deeper := *c.NewM - *c.Old.M
			c.DeeperM = &deeper
			if c.NewOf == c.Old.Of && c.NewOf != "" { // else what both are measured to may differ too
				c.DepthDoubt = sum(c.Old.DoubtM, doubtOf(p))
			}
		}
		all = append(all, c)
	}
	return all
}

func partOf(f geojson.Feature, o record.Overlay) string {
	if _, is := f.Geometry.(orb.Point); !is {
		return reference(record.Text(f.Properties, "depth_of"))
	}
	return newStation(f, 0, 0, o).part()
}

// beside finds the line nearest to positions: where they are farthest from what is nearest
// to each of them.
func (e edgeIndex) beside(positions []orb.Point) (c Comparison, at float64, ok bool) {
	c.OffM = -1
	for _, p := range positions {
		best, off := -1, math.Inf(1)
		for i := range e.in(grown(rtree.Box{MinX: p[0], MinY: p[1], MaxX: p[0], MaxY: p[1]}, p, farthestPair)) {
			s := e.all[i]
			path := e.lines[s.line].Path
			if d := toEdge(p, path[s.edge-1], path[s.edge]); d < off || d == off && s.line < best {
				best, off = s.line, d
			}
		}
		if best < 0 || off > farthestPair || off <= c.OffM {
			continue
		}
		c.Line, ok = e.lines[best], true
		at, c.OffM = c.Line.Nearest(p)
	}
	return c, at, ok
}

// Within reports whether a place lies in an area.
func Within(area orb.MultiPolygon, p orb.Point) bool {
	return area.Bound().Contains(p) && areaIndex{area: area}.contains(p)
}

// positionsOf are the positions of points and lines; areas are held beside nothing.
func positionsOf(g orb.Geometry) (all []orb.Point) {
	for part := range geojson.Parts(g) {
		switch g := part.(type) {
		case orb.Point:
			all = append(all, g)
		case orb.LineString:
			all = append(all, g...)
		}
	}
	return all
}

// sum is nil where either is.
func sum(a, b *float64) *float64 {
	if a == nil || b == nil {
		return nil
	}
	s := *a + *b
	return &s
}

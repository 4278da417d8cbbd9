package derive

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// Entry is a line that enters the dig area, or comes near it.
type Entry struct {
	Line     string       `json:"line"` // ID of [Line]
	Utility  string       `json:"utility"`
	Kind     string       `json:"kind"`
	LengthM  float64      `json:"length_m"`  // of the line inside the area
	Inside   [][2]float64 `json:"inside"`    // from station to station, meters
	NearestM float64      `json:"nearest_m"` // from the line to the area; 0 = inside
}

// Kinds of [Entry], the nearest first.
const (
	Enters             = "enters the dig area"
	ZoneReaches        = "its tolerance zone reaches the dig area"
	UncertaintyReaches = "with the record's uncertainty its zone reaches the dig area"
)

// Text is the kind for people, as recorded.
func (e Entry) Text() string {
	switch e.Kind {
	case Enters:
		return words.Say("entry.enters")
	case ZoneReaches:
		return words.Say("entry.zone")
	case UncertaintyReaches:
		return words.Say("entry.doubt")
	}
	return record.Quote(e.Kind) // a pack may come from anyone
}

// areaIndex is a dig area with its edges.
type areaIndex struct {
	area orb.MultiPolygon
	ends [][2]orb.Point
	boxIndex
}

func newAreaIndex(area orb.MultiPolygon) areaIndex {
	s := areaIndex{area: area}
	for _, polygon := range area {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				s.ends = append(s.ends, [2]orb.Point{ring[i-1], ring[i]})
			}
		}
	}
	s.boxIndex = newBoxIndex(len(s.ends), func(i int) rtree.Box { return boxOf(s.ends[i][0], s.ends[i][1]) })
	return s
}

// contains counts the edges to the east of a place: an even-odd rule over all
// rings of each polygon.
func (s areaIndex) contains(p orb.Point) bool {
	return slices.ContainsFunc(s.area, func(polygon orb.Polygon) bool {
		inside := false
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
					inside = !inside
				}
			}
		}
		return inside
	})
}

// entries finds the lines that enter a dig area or reach it with their zones,
// which must be in the order of the lines.
func entries(lines []Line, zones []Zone, area orb.MultiPolygon) []Entry {
	s := newAreaIndex(area)
	all := []Entry{}
	for i, l := range lines {
		reach := zones[i].ReachM
		uncertain := reach + orZero(zones[i].UncertaintyM)
		e := Entry{Line: l.ID, Utility: l.Utility, Inside: s.inside(l)}
		for _, span := range e.Inside {
			e.LengthM += span[1] - span[0]
		}
		if len(e.Inside) == 0 {
			e.NearestM = s.distance(l.Path, uncertain)
		}
		switch {
		case len(e.Inside) > 0:
			e.Kind = Enters
		case e.NearestM <= reach:
			e.Kind = ZoneReaches
		case e.NearestM <= uncertain:
			e.Kind = UncertaintyReaches
		default:
			continue
		}
		all = append(all, e)
	}
	return all
}

// inside gives the stretches of a line inside the area, in stations.
func (s areaIndex) inside(l Line) (spans [][2]float64) {
	if len(l.Path) == 1 && s.contains(l.Path[0]) { // one reading alone
		return [][2]float64{{0, 0}}
	}
	for e := 1; e < len(l.Path); e++ {
		a, b := l.Path[e-1], l.Path[e]
		cuts := []float64{0, 1}
		for i := range s.in(boxOf(a, b)) {
			if t, _, ok := intersection(a, b, s.ends[i][0], s.ends[i][1]); ok {
				cuts = append(cuts, t)
			}
		}
		slices.Sort(cuts)
		for i := 1; i < len(cuts); i++ {
			t, u := cuts[i-1], cuts[i]
			mid := (t + u) / 2
			if u-t < 1e-12 || !s.contains(orb.Point{a[0] + mid*(b[0]-a[0]), a[1] + mid*(b[1]-a[1])}) {
				continue
			}
			from, to := l.stationOn(e, t), l.stationOn(e, u)
			if n := len(spans); n > 0 && from-spans[n-1][1] < 1e-6 {
				spans[n-1][1] = to
			} else {
				spans = append(spans, [2]float64{from, to})
			}
		}
	}
	return spans
}

// distance is from a path to the border of the area in meters; infinite where it
// is more than most.
func (s areaIndex) distance(path orb.LineString, most float64) float64 {
	best := math.Inf(1)
	for e := range max(len(path)-1, 1) {
		a, b := path[e], path[min(e+1, len(path)-1)]
		for i := range s.in(grown(boxOf(a, b), a, most+1)) {
			best = min(best, edgeDistance(a, b, s.ends[i][0], s.ends[i][1]))
		}
	}
	return best
}

// ShowsNear reports whether a record shows anything in use within reach meters,
// plus its own stated accuracy, of a dig area: a feature of any kind, or a line
// through readings. Without an area, anything in use counts. Proposed and abandoned
// lines do not count: they would hide that the record shows no line in use here.
// They are reported and drawn all the same.
func ShowsNear(o record.Overlay, area orb.MultiPolygon, reach float64) bool {
	inUse := func(f geojson.Feature) bool {
		state, _ := o.StateOf(f.Properties)
		return state != record.Abandoned && (state != record.Proposed || o.Kind.Code == "proposed")
	}
	if len(area) == 0 {
		return slices.ContainsFunc(o.Features, inUse)
	}
	s := newAreaIndex(area)
	for _, f := range o.Features {
		if inUse(f) && s.isNear(f.Geometry, reach+orZero(o.AccuracyOf(f.Properties))) {
			return true
		}
	}
	lines, _ := makeLines(o, "")
	return slices.ContainsFunc(lines, func(l Line) bool {
		return l.Basis == basisReadings && l.State != record.Proposed && l.State != record.Abandoned &&
			s.isNear(l.Path, reach)
	})
}

// isNear reports whether a shape touches the area or comes within reach meters.
func (s areaIndex) isNear(g orb.Geometry, reach float64) bool {
	for part := range geojson.Parts(g) {
		near := false
		switch g := part.(type) {
		case orb.Point:
			near = s.pathIsNear(orb.LineString{g}, reach)
		case orb.LineString:
			near = s.pathIsNear(g, reach)
		case orb.Polygon:
			near = slices.ContainsFunc(g, func(r orb.Ring) bool { return s.pathIsNear(orb.LineString(r), reach) }) || s.within(g)
		}
		if near {
			return true
		}
	}
	return false
}

// within reports whether a polygon holds the area whole.
func (s areaIndex) within(polygon orb.Polygon) bool {
	f := newAreaIndex(orb.MultiPolygon{polygon})
	return slices.ContainsFunc(s.ends, func(e [2]orb.Point) bool { return f.contains(e[0]) })
}

func (s areaIndex) pathIsNear(path orb.LineString, reach float64) bool {
	return slices.ContainsFunc(path, s.contains) || len(path) > 0 && s.distance(path, reach) <= reach
}

// Touching tells of shapes whether they lie in an area at least in part, or touch it.
func Touching(area orb.MultiPolygon) func(orb.Geometry) bool {
	s := newAreaIndex(area)
	return func(g orb.Geometry) bool { return s.isNear(g, 0) }
}

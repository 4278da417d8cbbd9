package derive

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/words"
)

// Entry is a line that enters the dig area, or comes near it.
type Entry struct {
	Line     string       `json:"line"` // ID of [Line]
	Utility  string       `json:"utility"`
	Kind     string       `json:"kind"`
	LengthM  float64      `json:"length_m"`  // of the line inside the area
	Inside   [][2]float64 `json:"inside"`    // from station to station, metres
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
	return record.Quote(e.Kind) // a pack may be anybody's
}

// site is a dig area with its edges in a tree.
type site struct {
	area orb.MultiPolygon
	ends [][2]orb.Point
	tree *rtree.RTree
}

func newSite(area orb.MultiPolygon) site {
	s := site{area: area}
	var items []rtree.BulkItem
	for _, polygon := range area {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				items = append(items, rtree.BulkItem{Box: boxOf(a, b), RecordID: len(s.ends)})
				s.ends = append(s.ends, [2]orb.Point{a, b})
			}
		}
	}
	s.tree = rtree.BulkLoad(items)
	return s
}

func boxOf(a, b orb.Point) rtree.Box {
	return rtree.Box{MinX: min(a[0], b[0]), MinY: min(a[1], b[1]), MaxX: max(a[0], b[0]), MaxY: max(a[1], b[1])}
}

// near calls back the edges within some metres of an edge.
func (s site) near(a, b orb.Point, metres float64, each func(p, q orb.Point)) {
	box := boxOf(a, b)
	lon, lat := geodesic.At(a).Span(metres)
	box.MinX, box.MaxX, box.MinY, box.MaxY = box.MinX-lon, box.MaxX+lon, box.MinY-lat, box.MaxY+lat
	_ = s.tree.RangeSearch(box, func(i int) error { // the callback never fails
		each(s.ends[i][0], s.ends[i][1])
		return nil
	})
}

// contains counts the edges to the east of a place: an even-odd rule over all
// rings of each polygon.
func (s site) contains(p orb.Point) bool {
	for _, polygon := range s.area {
		inside := false
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
					inside = !inside
				}
			}
		}
		if inside {
			return true
		}
	}
	return false
}

// Entries finds the lines that enter a dig area or reach it with their zones,
// which must be in the order of the lines.
func Entries(lines []Line, zones []Zone, area orb.MultiPolygon) []Entry {
	s := newSite(area)
	all := []Entry{}
	for i, l := range lines {
		reach := zones[i].ReachM
		doubt := reach
		if zones[i].UncertaintyM != nil {
			doubt += *zones[i].UncertaintyM
		}
		e := Entry{Line: l.ID, Utility: l.Utility, Inside: s.inside(l)}
		for _, span := range e.Inside {
			e.LengthM += span[1] - span[0]
		}
		if len(e.Inside) == 0 {
			e.NearestM = s.distance(l, doubt)
		}
		switch {
		case len(e.Inside) > 0:
			e.Kind = Enters
		case e.NearestM <= reach:
			e.Kind = ZoneReaches
		case e.NearestM <= doubt:
			e.Kind = UncertaintyReaches
		default:
			continue
		}
		all = append(all, e)
	}
	return all
}

// inside gives the stretches of a line inside the area, in stations.
func (s site) inside(l Line) (spans [][2]float64) {
	if len(l.Path) == 1 && s.contains(l.Path[0]) { // one reading alone
		return [][2]float64{{0, 0}}
	}
	for e := 1; e < len(l.Path); e++ {
		a, b := l.Path[e-1], l.Path[e]
		cuts := []float64{0, 1}
		s.near(a, b, 0, func(p, q orb.Point) {
			if t, _, ok := meet(a, b, p, q); ok {
				cuts = append(cuts, t)
			}
		})
		slices.Sort(cuts)
		for i := 1; i < len(cuts); i++ {
			t, u := cuts[i-1], cuts[i]
			mid := (t + u) / 2
			if u-t < 1e-12 || !s.contains(orb.Point{a[0] + mid*(b[0]-a[0]), a[1] + mid*(b[1]-a[1])}) {
				continue
			}
			from, to := l.station(e, t), l.station(e, u)
			if n := len(spans); n > 0 && from-spans[n-1][1] < 1e-6 {
				spans[n-1][1] = to
			} else {
				spans = append(spans, [2]float64{from, to})
			}
		}
	}
	return spans
}

// distance is from a line to the border of the area in metres, as far as it is
// at most some metres; else infinite.
func (s site) distance(l Line, most float64) float64 {
	best := math.Inf(1)
	for e := range max(len(l.Path)-1, 1) {
		a, b := l.Path[e], l.Path[min(e+1, len(l.Path)-1)]
		s.near(a, b, most+1, func(p, q orb.Point) { best = min(best, apart(a, b, p, q)) })
	}
	return best
}

// apart is the distance of two edges in metres.
func apart(a, b, c, d orb.Point) float64 {
	if _, _, ok := meet(a, b, c, d); ok {
		return 0
	}
	return min(toEdge(a, c, d), toEdge(b, c, d), toEdge(c, a, b), toEdge(d, a, b))
}

// toEdge is from a place to an edge in metres, in the frame of the place.
func toEdge(p, a, b orb.Point) float64 {
	f := geodesic.At(p)
	x, y := f.Metres(a), f.Metres(b)
	dx, dy := y[0]-x[0], y[1]-x[1]
	t := 0.0
	if long := dx*dx + dy*dy; long > 0 {
		t = min(max(-(x[0]*dx+x[1]*dy)/long, 0), 1)
	}
	return math.Hypot(x[0]+t*dx, x[1]+t*dy)
}

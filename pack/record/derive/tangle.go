package derive

import (
	"cmp"
	"maps"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/rtree"

	"groundsheet/pack/record"
	"groundsheet/tiles/union"
	"groundsheet/tiles/words"
)

// Limits of work: readings out of order, or drawings gone wrong, cross everywhere,
// and the work grows with the square of the crossings. The project's own choice,
// no source.
const (
	mostSelfCrossings = 1_000  // of a line whose zone follows it
	mostCrossings     = 20_000 // of all lines
)

// tangled reports whether a line crosses itself too often for a zone that follows it.
func tangled(path orb.LineString) bool {
	if len(path)*len(path) < mostSelfCrossings {
		return false
	}
	edge := func(i int) rtree.Box { return boxOf(path[i], path[i+1]) }
	index := newBoxIndex(len(path)-1, edge)
	n := 0
	for i := range len(path) - 1 {
		for j := range index.in(edge(i)) {
			if j <= i+1 {
				continue
			}
			if _, _, ok := intersection(path[i], path[i+1], path[j], path[j+1]); ok {
				n++
			}
			if n > mostSelfCrossings {
				return true
			}
		}
	}
	return false
}

// aroundAll is the ground within reach meters of the hull of a line: never less
// than what is within reach of the line.
func aroundAll(line orb.LineString, reach float64) orb.MultiPolygon {
	hull := union.Hull(line)
	if len(hull) == 0 {
		return around(orb.LineString{line[0], line[len(line)-1]}, reach)
	}
	border := around(orb.LineString(hull[0][0]), reach)
	whole, err := union.Of(hull, border)
	if err != nil {
		return append(hull, border...)
	}
	return whole
}

// tangles names the lines that cross themselves everywhere.
func tangles(lines []Line, zones []Zone) (all []record.Finding) {
	for i, l := range lines {
		if zones[i].roundAll {
			all = append(all, record.NewFinding("tangle", record.Warning, l.ID, 0, words.Say("tangle.line", "most", mostSelfCrossings)))
		}
	}
	return all
}

// tooMany says that the records cross too often, at the overlay with the most
// crossings, or else the most edges.
func (e edgeIndex) tooMany(crossings []Crossing) record.Finding {
	crossed, edges := map[string]int{}, map[string]int{}
	byID := linesByID(e.lines)
	for _, c := range crossings {
		crossed[byID[c.Lines[0]].Overlay]++
		crossed[byID[c.Lines[1]].Overlay]++
	}
	for _, s := range e.all {
		edges[e.lines[s.line].Overlay]++
	}
	worst := slices.MaxFunc(slices.Sorted(maps.Keys(crossed)), func(a, b string) int {
		return cmp.Or(cmp.Compare(crossed[a], crossed[b]), cmp.Compare(edges[a], edges[b]))
	})
	return record.NewFinding("tangle", record.Fault, worst, 0, words.Say("tangle.all", "most", mostCrossings))
}

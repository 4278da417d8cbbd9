package record

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// fewNumbers is how many coordinates an overlay has at least before their
// decimals say anything: one that ends in zeros is chance.
const fewNumbers = 4

// decimals is the largest number of decimals that any coordinate of an overlay
// is written with, in the record itself; ok is false where too few are there to tell.
func (o Overlay) decimals() (most int, ok bool) {
	if o.Shift != nil && o.Shift.applied {
		return o.written, o.writtenTold
	}
	n := 0
	for _, f := range o.Features {
		eachPosition(f.Geometry, func(p orb.Point) {
			for _, v := range p {
				n++
				_, after, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
				most = max(most, len(after))
			}
		})
	}
	return most, n >= fewNumbers
}

func eachPosition(g orb.Geometry, each func(orb.Point)) {
	line := func(ps []orb.Point) {
		for _, p := range ps {
			each(p)
		}
	}
	switch g := g.(type) {
	case orb.Point:
		each(g)
	case orb.MultiPoint:
		line(g)
	case orb.LineString:
		line(g)
	case orb.MultiLineString:
		for _, l := range g {
			line(l)
		}
	case orb.Polygon:
		for _, r := range g {
			line(r)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			eachPosition(p, each)
		}
	case orb.Collection:
		for _, part := range g {
			eachPosition(part, each)
		}
	}
}

// fromTable says that the features came with the words of a table, whose
// reader looks at coordinates and units cell by cell.
func (o Overlay) fromTable() bool {
	return slices.ContainsFunc(o.Features, func(f geojson.Feature) bool { _, has := f.Properties["decimals"]; return has })
}

// deepest is a depth beyond which a unit is doubted, in metres; 40 ft (common
// practice, no source): few lines that a crew meets lie deeper.
const deepest = 40 * measure.Foot

// suspectDepths looks at the depths of features that no table gave: each that
// is hardly possible, and all of a kind whose median points at a wrong unit.
func (o Overlay) suspectDepths(in func(metres float64) string) []Finding {
	byUnit := map[string][]float64{}
	var far []string
	for _, f := range o.Features {
		m := Number(f.Properties, "depth_m")
		if m == nil {
			continue
		}
		unit := "m"
		for _, u := range []string{"ft", "in"} {
			if Number(f.Properties, "depth_"+u) != nil {
				unit = u
			}
		}
		byUnit[unit] = append(byUnit[unit], *m)
		if *m > deepest {
			far = append(far, f.Place)
		}
	}
	var all []Finding
	if len(far) > 0 {
		all = append(all, Finding{"units", Warning, o.File, 0, words.Say("plausible.deep", "n", len(far), "which", Several(far), "limit", in(deepest))})
	}
	if inches := byUnit["in"]; len(inches) > 0 {
		slices.Sort(inches)
		if median := inches[len(inches)/2]; median < 10*measure.Inch {
			all = append(all, Finding{"units", Warning, o.File, 0, words.Say("plausible.inches", "median", fmt.Sprintf("%.1f in", median/measure.Inch))})
		}
	}
	return all
}

package derive

import (
	"maps"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// What a feature of [Result.Features] is, in its property "part".
const (
	partZone     = "zone"        // tolerance zone of a line
	partDoubt    = "uncertainty" // the same with the record's own uncertainty added
	partLine     = "line"        // a line drawn through readings: no record has it
	partEntry    = "entry"       // what of a line enters the dig area, or comes near it
	partCrossing = "crossing"
	partBeside   = "beside" // stretches of a line that another runs beside
)

// Features gives the result as GeoJSON features for a map, each with its "part":
// zones, lines through readings, entries, crossings and parallel runs, the last two
// numbered from 1. Lengths are meters; null means not known.
func (k Result) Features() []geojson.Feature {
	var all []geojson.Feature
	byID := linesByID(k.Lines)
	for _, z := range k.Zones {
		all = append(all, z.features()...)
	}
	for _, l := range k.Lines {
		if l.Basis == basisReadings && len(l.Path) > 1 {
			all = append(all, geojson.Feature{Geometry: l.Path, Properties: map[string]any{
				"part": partLine, "line": l.ID, "overlay": l.Overlay, "utility": l.Utility, "name": l.Name,
				"quality_level": l.QualityLevel, "readings": len(l.Stations), "length_m": l.LengthM,
				record.StateProperty: string(l.State), "state": l.StateText(),
			}})
		}
	}
	for _, e := range k.Entries {
		all = append(all, e.feature(byID[e.Line]))
	}
	for i, c := range k.Crossings {
		all = append(all, c.feature(i+1, byID))
	}
	for i, b := range k.ParallelRuns {
		all = append(all, b.feature(i+1, byID))
	}
	return all
}

func (z Zone) features() (all []geojson.Feature) {
	add := func(part string, shape orb.MultiPolygon, reach float64) {
		if len(shape) > 0 {
			all = append(all, geojson.Feature{Geometry: shape, Properties: map[string]any{
				"line": z.Line, "utility": z.Utility, "part": part, "reach_m": reach, "size_known": z.SizeKnown,
			}})
		}
	}
	add(partZone, z.Shape, z.ReachM)
	if z.UncertaintyM != nil {
		add(partDoubt, z.Uncertain, z.ReachM+*z.UncertaintyM)
	}
	return all
}

// feature draws the stretches inside the area; of a line that only comes near
// it, the whole.
func (e Entry) feature(l Line) geojson.Feature {
	var shape orb.MultiLineString
	for _, span := range e.Inside {
		shape = append(shape, l.between(span[0], span[1]))
	}
	if len(shape) == 0 && len(l.Path) > 1 {
		shape = orb.MultiLineString{l.Path}
	}
	return geojson.Feature{Geometry: shape, Properties: map[string]any{
		"part": partEntry, "line": e.Line, "overlay": l.Overlay, "utility": e.Utility, "name": l.Title(), "kind": e.Kind,
		"length_m": e.LengthM, "nearest_m": e.NearestM, "state": l.StateText(),
	}}
}

func (c Crossing) feature(number int, lines map[string]Line) geojson.Feature {
	a, b := lines[c.Lines[0]], lines[c.Lines[1]]
	f := pairFeature(partCrossing, number, c.Place, a, b)
	maps.Copy(f.Properties, map[string]any{
		"utilities": c.Utilities, "relation": c.Relation, "in_area": c.InArea, "rules": rulesOf(c.Rules),
		"depths_m": [2]*float64{c.Depths[0].M, c.Depths[1].M}, "bases": [2]string{c.Depths[0].Basis, c.Depths[1].Basis},
		"gaps_m": [2]float64{c.Depths[0].GapM, c.Depths[1].GapM}, "separation_m": c.SeparationM,
		"kind": c.Kind, "clear_m": c.ClearM, "depths": c.Depths, "sizes": [2]string{a.Size, b.Size},
	})
	return f
}

func (p ParallelRun) feature(number int, lines map[string]Line) geojson.Feature {
	f := pairFeature(partBeside, number, p.Path, lines[p.Lines[0]], lines[p.Lines[1]])
	maps.Copy(f.Properties, map[string]any{
		"utilities": p.Utilities, "relation": p.Relation, "in_area": p.InArea, "rules": rulesOf(p.Rules),
		"stations_m": p.StationsM, "length_m": p.LengthM, "least_m": p.LeastM,
	})
	return f
}

// pairFeature has the properties that crossings and parallel runs share.
func pairFeature(part string, number int, g orb.Geometry, a, b Line) geojson.Feature {
	return geojson.Feature{Geometry: g, Properties: map[string]any{
		"part": part, "number": number, "lines": [2]string{a.ID, b.ID}, "overlays": [2]string{a.Overlay, b.Overlay},
		"names": [2]string{a.Title(), b.Title()}, "states": [2]string{a.StateText(), b.StateText()},
	}}
}

// rulesOf gives a list that is never null.
func rulesOf(all []Judgment) []Judgment { return append([]Judgment{}, all...) }

package derive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// Encoded is a [Result] as it travels in a pack: JSON without the shapes of its
// zones, and GeoJSON of all that can be drawn.
type Encoded struct{ Facts, Features []byte }

// Encode gives the parts; equal results give equal bytes.
func (k Result) Encode() (Encoded, error) {
	var b bytes.Buffer
	if err := geojson.Write(&b, k.Features()); err != nil {
		return Encoded{}, err
	}
	k.Zones = slices.Clone(k.Zones)
	for i := range k.Zones {
		k.Zones[i].Shape, k.Zones[i].Uncertain = nil, nil
	}
	text, err := json.Marshal(k)
	return Encoded{text, b.Bytes()}, err
}

// Decode puts the parts together again. They come from an untrusted file: an
// error says what in them does not fit.
func Decode(p Encoded) (Result, error) {
	k := Result{
		Lines: []Line{}, Zones: []Zone{}, Entries: []Entry{}, Crossings: []Crossing{}, Statistics: []Statistics{},
		Findings: []record.Finding{},
	}
	if err := json.Unmarshal(p.Facts, &k); err != nil {
		return Result{}, err
	}
	if err := k.decodeShapes(p.Features); err != nil {
		return Result{}, err
	}
	for i := range k.Lines {
		k.Lines[i].measure()
	}
	if err := k.check(); err != nil {
		return k, err
	}
	byID := linesByID(k.Lines)
	for i := range k.Crossings {
		if c := &k.Crossings[i]; c.Kind == "" { // written before depths said what they are measured to
			c.SeparationM, c.Upper = nil, ""
			c.relate(byID[c.Lines[0]], byID[c.Lines[1]])
		}
	}
	return k, nil
}

// decodeShapes gives the zones their shapes from the features.
func (k Result) decodeShapes(features []byte) error {
	var all struct {
		Features []struct {
			Geometry   struct{ Coordinates json.RawMessage }
			Properties struct{ Part, Line string }
		}
	}
	if err := json.Unmarshal(features, &all); err != nil {
		return fmt.Errorf("its shapes: %w", err)
	}
	shapes := map[[2]string]*orb.MultiPolygon{}
	for i := range k.Zones {
		z := &k.Zones[i]
		shapes[[2]string{z.Line, partZone}], shapes[[2]string{z.Line, partDoubt}] = &z.Shape, &z.Uncertain
	}
	for _, f := range all.Features {
		shape := shapes[[2]string{f.Properties.Line, f.Properties.Part}]
		if shape == nil {
			continue
		}
		if err := json.Unmarshal(f.Geometry.Coordinates, shape); err != nil {
			return fmt.Errorf("the zone of line %s: %w", record.Quote(f.Properties.Line), err)
		}
	}
	return nil
}

// check says what does not fit together, or nil.
func (k Result) check() error {
	lines := map[string]bool{}
	for _, l := range k.Lines {
		if lines[l.ID] || len(l.Path) == 0 || !onEarth(l.Path) {
			return fmt.Errorf("line %s is there twice, or has no place on the ground", record.Quote(l.ID))
		}
		lines[l.ID] = true
	}
	if n := len(k.Zones); n > 0 && n != len(k.Lines) {
		return fmt.Errorf("%d lines have %d zones", len(k.Lines), n)
	}
	for i, z := range k.Zones {
		if z.Line != k.Lines[i].ID || !onEarth(z.Shape) || !onEarth(z.Uncertain) {
			return fmt.Errorf("a zone of line %s does not fit it", record.Quote(z.Line))
		}
	}
	for _, e := range k.Entries {
		if !lines[e.Line] {
			return fmt.Errorf("a line %s that is not there enters the area", record.Quote(e.Line))
		}
	}
	for _, c := range k.Crossings {
		if !lines[c.Lines[0]] || !lines[c.Lines[1]] || !onEarth(c.Place) {
			return fmt.Errorf("lines %s and %s cross, and one is not there", record.Quote(c.Lines[0]), record.Quote(c.Lines[1]))
		}
	}
	for _, b := range k.ParallelRuns {
		short := slices.ContainsFunc(b.Path, func(p orb.LineString) bool { return len(p) < 2 })
		if !lines[b.Lines[0]] || !lines[b.Lines[1]] || len(b.StationsM) == 0 || len(b.StationsM) != len(b.Path) ||
			short || !onEarth(b.Path) {
			return fmt.Errorf("lines %s and %s run beside one another, and one is not there, or has no stretch",
				record.Quote(b.Lines[0]), record.Quote(b.Lines[1]))
		}
	}
	for _, f := range k.Findings {
		if !slices.Contains([]record.Severity{record.Fault, record.Warning, record.Note}, f.Severity) {
			return fmt.Errorf("a finding is %s", record.Quote(string(f.Severity)))
		}
	}
	return nil
}

// onEarth reports whether all of a shape has coordinates of the earth.
func onEarth(g orb.Geometry) bool {
	for part := range geojson.Parts(g) {
		polygon, ok := part.(orb.Polygon)
		if !ok {
			polygon = orb.Polygon{orb.Ring{part.Bound().Min, part.Bound().Max}}
		}
		for _, ring := range polygon {
			if slices.ContainsFunc(ring, func(p orb.Point) bool { return math.Abs(p[0]) > 360 || math.Abs(p[1]) > 90 }) {
				return false
			}
		}
	}
	return true
}

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

package derive

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
)

// Encoded are a [Result] as it travels in a pack: JSON without the shapes of its
// zones, and GeoJSON of all that can be drawn.
type Encoded struct{ Facts, Features []byte }

// Encode gives the parts; equal knowledge gives equal bytes.
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

// Decode puts the parts together again. They are of an untrusted file: an
// error says what in them does not fit.
func Decode(p Encoded) (Result, error) {
	k := Result{Lines: []Line{}, Zones: []Zone{}, Entries: []Entry{}, Crossings: []Crossing{}, Statistics: []Statistics{}, Findings: []record.Finding{}}
	if err := json.Unmarshal(p.Facts, &k); err != nil {
		return Result{}, err
	}
	if err := k.takeShapes(p.Features); err != nil {
		return Result{}, err
	}
	for i := range k.Lines {
		k.Lines[i].measure()
	}
	if err := k.sound(); err != nil {
		return k, err
	}
	k.relateAgain()
	return k, nil
}

// relateAgain tells anew what crossings say that were written before their
// depths said what they are measured to.
func (k Result) relateAgain() {
	byID := linesByID(k.Lines)
	for i := range k.Crossings {
		if c := &k.Crossings[i]; c.Kind == "" {
			c.SeparationM, c.Upper = nil, ""
			c.relate(byID[c.Lines[0]], byID[c.Lines[1]])
		}
	}
}

// takeShapes gives the zones their shapes from the features.
func (k Result) takeShapes(features []byte) error {
	var all struct {
		Features []struct {
			Geometry   struct{ Coordinates json.RawMessage }
			Properties struct{ Part, Line string }
		}
	}
	if err := json.Unmarshal(features, &all); err != nil {
		return fmt.Errorf("its shapes: %w", err)
	}
	zones := map[string]*Zone{}
	for i := range k.Zones {
		zones[k.Zones[i].Line] = &k.Zones[i]
	}
	for _, f := range all.Features {
		z := zones[f.Properties.Line]
		var into *orb.MultiPolygon
		switch {
		case z == nil:
			continue
		case f.Properties.Part == partZone:
			into = &z.Shape
		case f.Properties.Part == partDoubt:
			into = &z.Uncertain
		default:
			continue
		}
		if err := json.Unmarshal(f.Geometry.Coordinates, into); err != nil {
			return fmt.Errorf("the zone of line %s: %w", record.Quote(z.Line), err)
		}
	}
	return nil
}

// sound says what does not fit together, or nil.
func (k Result) sound() error {
	known := map[string]bool{}
	for _, l := range k.Lines {
		if known[l.ID] || len(l.Path) == 0 || !onEarth(l.Path) {
			return fmt.Errorf("line %s is there twice, or has no place on the ground", record.Quote(l.ID))
		}
		known[l.ID] = true
	}
	if n := len(k.Zones); n > 0 && n != len(k.Lines) {
		return fmt.Errorf("%d lines have %d zones", len(k.Lines), n)
	}
	for i, z := range k.Zones {
		if z.Line != k.Lines[i].ID || !shapeOnEarth(z.Shape) || !shapeOnEarth(z.Uncertain) {
			return fmt.Errorf("a zone of line %s does not fit it", record.Quote(z.Line))
		}
	}
	for _, e := range k.Entries {
		if !known[e.Line] {
			return fmt.Errorf("a line %s that is not there enters the area", record.Quote(e.Line))
		}
	}
	for _, c := range k.Crossings {
		if !known[c.Lines[0]] || !known[c.Lines[1]] || !onEarth(orb.LineString{c.Place}) {
			return fmt.Errorf("lines %s and %s cross, and one is not there", record.Quote(c.Lines[0]), record.Quote(c.Lines[1]))
		}
	}
	for _, b := range k.ParallelRuns {
		if !known[b.Lines[0]] || !known[b.Lines[1]] || len(b.StationsM) == 0 || len(b.StationsM) != len(b.Path) || slices.ContainsFunc(b.Path, func(p orb.LineString) bool { return len(p) < 2 || !onEarth(p) }) {
			return fmt.Errorf("lines %s and %s run beside one another, and one is not there, or has no stretch", record.Quote(b.Lines[0]), record.Quote(b.Lines[1]))
		}
	}
	for _, f := range k.Findings {
		if !slices.Contains([]record.Severity{record.Fault, record.Warning, record.Note}, f.Severity) {
			return fmt.Errorf("a finding is %s", record.Quote(string(f.Severity)))
		}
	}
	return nil
}

func onEarth(path orb.LineString) bool {
	return !slices.ContainsFunc(path, func(p orb.Point) bool { return math.Abs(p[0]) > 360 || math.Abs(p[1]) > 90 })
}

func shapeOnEarth(shape orb.MultiPolygon) bool {
	for _, polygon := range shape {
		for _, ring := range polygon {
			if !onEarth(orb.LineString(ring)) {
				return false
			}
		}
	}
	return true
}

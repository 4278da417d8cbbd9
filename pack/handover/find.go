package handover

import (
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// Source says where a find comes from.
type Source string

// The sources.
const (
	FieldBook Source = "field book" // a mark, as its writer left it
	WorkedOut Source = "worked out" // a line through the readings of one run
	Recorded  Source = "record"     // what was recorded before the visit
)

// Find is one thing that goes along.
type Find struct {
	ID       string
	Source   Source
	Kind     string         // of a mark; what the record calls it, else "recorded"
	Utility  string         // by the color code
	Geometry orb.Geometry   // degrees: an orb.Point, orb.MultiLineString or orb.MultiPolygon; nil = no place
	Values   map[string]any // by the name of the field: string or float64; missing = not stated
	Photos   []string       // SHA-256 of each
	notThere bool           // of a mark: the position says nothing of where it was made ([fieldbook.NotThere])
	mixed    bool           // of a line worked out: its readings are on several datums
	still    []orb.Point    // of a line worked out: positions that no shift is for
}

// text is a value in words; "" where it is not stated.
func (f Find) text(name string) string {
	s, _ := f.Values[name].(string)
	return s
}

// number is a value that is a number, else nil.
func (f Find) number(name string) *float64 {
	if v, ok := f.Values[name].(float64); ok {
		return &v
	}
	return nil
}

// set states a value, unless there is none.
func (f Find) set(name string, v any) {
	switch v := v.(type) {
	case nil:
	case string:
		if v != "" {
			f.Values[name] = v
		}
	case *float64:
		if v != nil {
			f.Values[name] = *v
		}
	default:
		f.Values[name] = v
	}
}

// split gives a find for each kind of geometry that a shape has: each point alone, all
// lines, all areas. Most shapes give one. The IDs of several are told apart.
func (f Find) split() []Find {
	var points []orb.Geometry
	var lines orb.MultiLineString
	var areas orb.MultiPolygon
	for part := range geojson.Parts(f.Geometry) {
		switch g := part.(type) {
		case orb.Point:
			points = append(points, g)
		case orb.LineString:
			lines = append(lines, g)
		case orb.Polygon:
			areas = append(areas, g)
		}
	}
	all := points
	if len(lines) > 0 {
		all = append(all, lines)
	}
	if len(areas) > 0 {
		all = append(all, areas)
	}
	if len(all) == 0 {
		f.Geometry = nil
		return []Find{f}
	}
	var out []Find
	for i, g := range all {
		part := f
		if part.Geometry = g; len(all) > 1 {
			part.ID += "/" + strconv.Itoa(i+1)
		}
		out = append(out, part)
	}
	return out
}

// shape is a kind of geometry that a find may have.
type shape int

const (
	unplaced shape = iota
	points
	lines
	areas
)

func (f Find) shape() shape {
	switch f.Geometry.(type) {
	case orb.Point:
		return points
	case orb.MultiLineString:
		return lines
	case orb.MultiPolygon:
		return areas
	}
	return unplaced
}

// of are the finds of one kind of geometry.
func of(s shape, finds []Find) []Find {
	return slices.DeleteFunc(slices.Clone(finds), func(f Find) bool { return f.shape() != s })
}

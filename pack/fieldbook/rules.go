package fieldbook

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// Kinds of marks, the property "kind".
const (
	Reading        = "reading"
	Line           = "line"
	Area           = "area"
	NothingFound   = "nothing found" // looked, and nothing was found there
	Unlocatable    = "unlocatable"   // known of, and could not be located
	TestHole       = record.TestHole
	SurfaceFeature = "surface feature"
)

// Kinds lists the kinds of marks.
func Kinds() []string {
	return []string{Reading, Line, Area, NothingFound, Unlocatable, TestHole, SurfaceFeature}
}

// shapes are the types of geometry that a kind may have; one without may have none, and
// any that is not a collection.
var shapes = map[string][]string{
	Reading: {"Point"}, TestHole: {"Point"},
	Line: {"LineString", "MultiLineString"}, Area: {"Polygon", "MultiPolygon"},
	SurfaceFeature: {"Point", "LineString", "Polygon"},
	NothingFound:   {"Point", "LineString", "MultiLineString", "Polygon", "MultiPolygon"},
}

// deepest is the most that a depth may be, in meters: nothing that is located from the
// ground lies deeper (the project's own choice, no source).
const deepest = 100

// checkFeature applies the rules of what may be recorded.
func checkFeature(f geojson.Feature) error {
	p := properties(f.Properties)
	for _, name := range []string{"kind", "utility", "line", "owner", "label", "method", "depth_as_typed", "depth_reference", "quality_level", "reason", "note"} {
		if err := p.isText(name); err != nil {
			return err
		}
	}
	kind, _ := p["kind"].(string)
	if !slices.Contains(Kinds(), kind) {
		return fmt.Errorf(`"kind" is not one of %s`, strings.Join(Kinds(), ", "))
	}
	if err := checkShape(kind, f.Geometry); err != nil {
		return err
	}
	utility, _ := p["utility"].(string)
	if _, err := record.FindUtility(utility); err != nil {
		return err
	}
	for name, most := range map[string]float64{"depth_m": deepest, "frequency_hz": 1e12, "current_ma": 1e9} {
		if err := p.isWithin(name, most); err != nil {
			return err
		}
	}
	if line, _ := p["line"].(string); line != "" && !hexID.MatchString(line) {
		return errors.New(`"line" is not 32 lower-case hex digits`)
	}
	if kind == Unlocatable && record.Text(p, "reason") == "" {
		return errors.New("what cannot be located says the reason")
	}
	if err := checkLevel(kind, p); err != nil {
		return err
	}
	if err := checkPhotos(p["photos"]); err != nil {
		return err
	}
	return checkPosition(p["position"])
}

func checkShape(kind string, g orb.Geometry) error {
	allowed := shapes[kind]
	switch {
	case g == nil && allowed != nil:
		return fmt.Errorf("a mark of kind %q has a place", kind)
	case g == nil:
		return nil
	case allowed != nil && !slices.Contains(allowed, g.GeoJSONType()), g.GeoJSONType() == "GeometryCollection":
		return fmt.Errorf("a mark of kind %q is not drawn as a %s", kind, g.GeoJSONType())
	}
	return nil
}

// bestLevel is the best quality level of ASCE 38 that a kind and a method can give, and why
// it is no better.
func bestLevel(kind, method string) (level, why string) {
	first := ""
	if words := record.Tokens(method); len(words) > 0 {
		first = words[0]
	}
	switch {
	case kind == TestHole:
		return record.LevelA, ""
	case first == "paint":
		return "D", "paint alone is quality level D, never better"
	case first == "told":
		return "D", "what was told is quality level D, never better"
	case kind == SurfaceFeature || first == "surface":
		return "C", "what is seen at the surface is quality level C, never better"
	}
	return "B", "quality level A is of a test hole alone"
}

// checkLevel proves that a quality level claims no more than its kind and method can give.
func checkLevel(kind string, p properties) error {
	level, _ := p["quality_level"].(string)
	best, why := bestLevel(kind, record.Text(p, "method"))
	switch {
	case level == "":
		return nil
	case !slices.Contains([]string{"A", "B", "C", "D"}, level):
		return errors.New(`"quality_level" is not A, B, C or D`)
	case kind == NothingFound || kind == Unlocatable:
		return fmt.Errorf("a mark of kind %q has no quality level", kind)
	case level < best:
		return errors.New(why)
	}
	return nil
}

// mostPhotos is how many photos a mark may have. The project's own choice, no source.
const mostPhotos = 20

func checkPhotos(v any) error {
	if v == nil {
		return nil
	}
	all, ok := v.([]any)
	if !ok || len(all) > mostPhotos {
		return fmt.Errorf(`"photos" is not a list of at most %d`, mostPhotos)
	}
	for _, one := range all {
		photo, _ := one.(map[string]any)
		size := record.Number(photo, "bytes")
		media, _ := photo["type"].(string)
		if hash, _ := photo["hash"].(string); !hexHash.MatchString(hash) || !photoTypes[media] || size == nil || *size < 1 || *size > MaxPhoto {
			return fmt.Errorf("a photo is not named by its SHA-256, its type (JPEG or PNG) and its bytes (at most %d)", MaxPhoto)
		}
	}
	return nil
}

func checkPosition(v any) error {
	if v == nil {
		return nil
	}
	position, ok := v.(map[string]any)
	p := properties(position)
	from, _ := p["from"].(string)
	if !ok || !slices.Contains([]string{"receiver", "cross", "typed"}, from) {
		return errors.New(`"position" is not from a receiver, the cross or typed`)
	}
	for _, name := range []string{"error_m", "stated_m", "spread_m"} {
		if err := p.isWithin(name, 1e7); err != nil {
			return fmt.Errorf("position: %w", err)
		}
	}
	return nil
}

type properties map[string]any

func (p properties) isText(name string) error {
	if _, ok := p[name].(string); !ok && p[name] != nil {
		return fmt.Errorf("%q is no text", name)
	}
	return nil
}

func (p properties) isWithin(name string, most float64) error {
	if p[name] == nil {
		return nil
	}
	if v := record.Number(p, name); v == nil || *v < 0 || *v > most {
		return fmt.Errorf("%q is not a number from 0 to %g", name, most)
	}
	return nil
}

// farthest is how far from the pack's area a mark may lie, in meters: a crew that works
// beside the job is let in, swapped axes are not (the project's own choice, no source).
const farthest = 50_000

// checkPlace refuses what lies too far from the box of the pack's area; an empty box
// refuses nothing.
func checkPlace(g orb.Geometry, area orb.Bound) error {
	if g == nil || area == (orb.Bound{}) {
		return nil
	}
	b := g.Bound()
	for _, p := range []orb.Point{b.Min, b.Max} {
		near := orb.Point{min(max(p[0], area.Min[0]), area.Max[0]), min(max(p[1], area.Min[1]), area.Max[1])}
		if geodesic.Distance(p, near) > farthest {
			return fmt.Errorf("the place is more than %d km from the area of this map", farthest/1000)
		}
	}
	return nil
}

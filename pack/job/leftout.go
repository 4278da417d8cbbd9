package job

import (
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// keepKinds keeps the features of two kinds when there are any, and notes what was
// left out: a pin beside a dig polygon is common. With none of them all are
// kept, so that the error says what is there instead.
func keepKinds[A, B orb.Geometry](features []geojson.Feature, name string, notes *[]string) []geojson.Feature {
	var kept, rest []geojson.Feature
	for _, f := range features {
		switch f.Geometry.(type) {
		case A, B, orb.Collection:
			kept = append(kept, f)
		default:
			rest = append(rest, f)
		}
	}
	if len(kept) == 0 || len(rest) == 0 {
		return features
	}
	*notes = append(*notes, name+": "+passedOver(rest))
	return kept
}

const placeless = "feature without a place"

// mostNamed is how many features that were left out are named.
const mostNamed = 5

// passedOver tells which features were left out: "1 point was left out: ticket pin".
func passedOver(features []geojson.Feature) string {
	counts, total := map[string]int{}, 0
	var names []string
	for _, f := range features {
		kind, n := kindOf(f.Geometry)
		counts[kind] += n
		total += n
		if len(names) < mostNamed {
			names = append(names, nameOf(f))
		}
	}
	if more := len(features) - len(names); more > 0 {
		names = append(names, words.Say("plan.left_more", "n", more))
	}
	var parts []string
	add := func(n int, say string) {
		if n > 0 {
			parts = append(parts, say)
		}
	}
	add(counts["point"], words.Say("plan.left_points", "n", counts["point"]))
	add(counts["line"], words.Say("plan.left_lines", "n", counts["line"]))
	add(counts["outline"], words.Say("plan.left_outlines", "n", counts["outline"]))
	add(counts[placeless], words.Say("plan.left_placeless", "n", counts[placeless]))
	return words.Say("plan.left", "what", words.List(parts), "n", total, "names", strings.Join(names, ", "))
}

// kindOf is what a geometry is, and how many of it there are.
func kindOf(g orb.Geometry) (kind string, n int) {
	switch g := g.(type) {
	case orb.Point:
		return "point", 1
	case orb.MultiPoint:
		return "point", len(g)
	case orb.LineString:
		return "line", 1
	case orb.MultiLineString:
		return "line", len(g)
	case orb.Polygon:
		return "outline", 1
	case orb.MultiPolygon:
		return "outline", len(g)
	}
	return placeless, 1
}

// nameOf is the name of a feature, else its place in its file.
func nameOf(f geojson.Feature) string {
	for _, key := range []string{"name", "Name", "NAME", "label", "title"} {
		if text, ok := f.Properties[key].(string); ok && strings.TrimSpace(text) != "" {
			return fmt.Sprintf("%.60q", strings.TrimSpace(text))
		}
	}
	return f.Place
}

package area

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"

	"groundsheet/tiles/fault"
)

func refuse(rule *fault.Kind, place, detail, remedy string) *fault.Fault {
	return &fault.Fault{Kind: rule, Place: place, Detail: detail, Remedy: remedy}
}

// Rules of an area, beside those of a GeoJSON text: the kinds of its faults.
var (
	RuleKind         = fault.Input("kind")          // a geometry that covers no ground
	RuleNothing      = fault.Input("nothing")       // no shape at all
	RuleMercator     = fault.Input("mercator")      // beyond the latitudes Web Mercator has
	RuleFlat         = fault.Input("flat")          // a polygon without area, a line without length
	RuleSelfCrossing = fault.Input("self-crossing") // a ring that crosses itself or runs along itself
	RuleHole         = fault.Input("hole")          // a hole outside its polygon, or inside another hole
	RuleRings        = fault.Input("rings")         // rings of one polygon that cross, or cut it in two
	RuleNumber       = geojson.RuleNumber           // a number that is not finite, or a length out of range
	RuleTooMany      = fault.Input("too many")      // more than [MaxPositions] or [MaxPieces]
)

// MaxPositions is the most positions one area may have: a dig area or a route
// has thousands at most, and the search for crossings must come to an end.
const MaxPositions = 200_000

// MaxPieces is the most pieces the routes of one area may be drawn with. Gentle
// bends share a piece; each sharp one begins another. An outline of more would be
// more than a phone draws (the project's own choice, no source).
const MaxPieces = 50_000

// Polygons makes an area of the polygons in the features: Polygon, MultiPolygon
// and collections of them. Features without a geometry are passed over; any
// other geometry, a shape that is not valid, or nothing at all is a [*fault.Fault].
// Polygons may overlap one another. A ring that touches itself at single places
// is taken apart there: its polygon becomes several that touch, or gets holes.
func Polygons(features []geojson.Feature) (Area, error) {
	var a Area
	var c validator
	for _, f := range features {
		err := c.walk(f.Geometry, f.Place, func(g orb.Geometry, place string) error {
			polygon, ok := g.(orb.Polygon)
			if !ok {
				return refuse(RuleKind, place, g.GeoJSONType()+": an area needs a Polygon or MultiPolygon", insteadOf(g))
			}
			parts, err := c.checkPolygon(polygon, place)
			a.Polygons = append(a.Polygons, parts...)
			return err
		})
		if err != nil {
			return Area{}, err
		}
	}
	if a.Empty() {
		return Area{}, refuse(RuleNothing, "file", "no polygon in it", "draw the dig area as a polygon and export it again")
	}
	return a, nil
}

// Route makes an area of the lines in the features, width meters wide over
// all: LineString, MultiLineString and collections of them. Width 0 is the
// bare line. What else it refuses is as in [Polygons].
func Route(features []geojson.Feature, width float64) (Area, error) {
	if err := checkReach("the width", width, 2*MaxReach); err != nil {
		return Area{}, err
	}
	var a Area
	var c validator
	for _, f := range features {
		err := c.walk(f.Geometry, f.Place, func(g orb.Geometry, place string) error {
			line, ok := g.(orb.LineString)
			if !ok {
				return refuse(RuleKind, place, g.GeoJSONType()+": a route needs a LineString or MultiLineString",
					"for an area give no width")
			}
			if err := c.checkLine(line, place); err != nil {
				return err
			}
			a.Strips = append(a.Strips, Strip{line, width / 2})
			return c.countPieces(line, width/2, place)
		})
		if err != nil {
			return Area{}, err
		}
	}
	if a.Empty() {
		return Area{}, refuse(RuleNothing, "file", "no line in it", "draw the route as a line and export it again")
	}
	return a, nil
}

// Around makes an area of the ground within radius meters of a place in
// degrees. Radius 0 is the bare place.
func Around(lat, lon, radius float64) (Area, error) {
	if err := checkReach("the radius", radius, MaxReach); err != nil {
		return Area{}, err
	}
	p := orb.Point{lon, lat}
	if err := checkPoint(p, "place"); err != nil {
		return Area{}, err
	}
	return Area{Discs: []Disc{{p, radius}}}, nil
}

func checkReach(what string, meters, most float64) error {
	if meters >= 0 && meters <= most {
		return nil
	}
	return refuse(RuleNumber, "", fmt.Sprintf("%s is %v meters", what, meters), fmt.Sprintf("give 0 to %.0f meters", most))
}

// validator walks the geometries of a job and counts their positions.
type validator struct{ positions, pieces int }

// walk gives each single geometry with its place.
func (c *validator) walk(g orb.Geometry, place string, visit func(orb.Geometry, string) error) error {
	switch g := g.(type) {
	case nil:
		return nil
	case orb.Collection:
		return each(c, g, place, "geometry", visit)
	case orb.MultiPolygon:
		return each(c, g, place, "polygon", visit)
	case orb.MultiLineString:
		return each(c, g, place, "line", visit)
	case orb.Ring:
		return visit(orb.Polygon{g}, place)
	case orb.Bound:
		return visit(g.ToPolygon(), place)
	}
	return visit(g, place)
}

func each[G orb.Geometry](c *validator, list []G, place, word string, visit func(orb.Geometry, string) error) error {
	for i, g := range list {
		if err := c.walk(g, fmt.Sprintf("%s, %s %d", place, word, i+1), visit); err != nil {
			return err
		}
	}
	return nil
}

// count refuses more positions than an area may have.
func (c *validator) count(n int, place string) error {
	if c.positions += n; c.positions <= MaxPositions {
		return nil
	}
	return refuse(RuleTooMany, place, fmt.Sprintf("more than %d positions", MaxPositions),
		"simplify the shapes or make several jobs")
}

// countPieces refuses more pieces than the routes of an area may have. A bare line
// is counted as one a meter wide: its margin comes later.
func (c *validator) countPieces(line orb.LineString, halfWidth float64, place string) error {
	if c.pieces += piecesOf(line, max(halfWidth, 0.5)); c.pieces <= MaxPieces {
		return nil
	}
	return refuse(RuleTooMany, place, fmt.Sprintf("more than %d bends that its width does not smooth", MaxPieces),
		"simplify the route: of a recorded track keep a position every few meters; or make several jobs")
}

// checkPoint refuses a place Web Mercator has no tile for.
func checkPoint(p orb.Point, place string) error {
	lon, lat := p[0], p[1]
	switch {
	case !(math.Abs(lon) <= 180):
		return refuse(geojson.RuleLongitude, place, fmt.Sprintf("longitude %v is beyond ±180", lon),
			"longitude is -180 to 180 degrees")
	case math.Abs(lat) <= tiles.MaxLatitude:
		return nil
	}
	f := refuse(RuleMercator, place, fmt.Sprintf("latitude %v is beyond ±85.0511, where Web Mercator ends", lat),
		"tiles of this kind do not reach the poles")
	if !(math.Abs(lat) <= 90) {
		f.Kind, f.Detail, f.Remedy = geojson.RuleLatitude, fmt.Sprintf("latitude %v is impossible", lat),
			"latitude is -90 to 90 degrees"
	}
	if math.Abs(lon) <= 90 {
		f.Remedy = "are latitude and longitude swapped? GeoJSON gives longitude first"
	}
	return f
}

// insteadOf says how a shape that is no outline can be given.
func insteadOf(g orb.Geometry) string {
	switch g.(type) {
	case orb.Point, orb.MultiPoint:
		return "for a point give a circle: --around LAT,LON --radius 100ft"
	}
	return "for a line give a route with a width: --along FILE --width 60ft"
}

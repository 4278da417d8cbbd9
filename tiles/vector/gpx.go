package vector

import (
	"encoding/xml"
	"fmt"
	"maps"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"

	"groundsheet/tiles/geojson"
)

// closingGap is how near to its beginning a track must end to be the walk
// around an area, in meters: a few times the error of a hand-held receiver.
const closingGap = 5

// gpx reads GPX 1.1, and 1.0, whose tracks, routes and waypoints are the same.
func (b *builder) gpx(f File) error {
	b.info.Format, b.info.Datum = "GPX", wgs84
	g := &gpxReader{builder: b, m: newMarkup(f.Data)}
	root, err := g.m.root()
	if err != nil {
		return err
	}
	if root.Name.Local != "gpx" {
		return refuse(RuleFormat, g.m.place(), "the root element is "+quote(root.Name.Local)+", not \"gpx\"",
			"give the file the ending of its content, or export it as GPX")
	}
	if v := attribute(root.Attr, "version"); v != "1.1" && v != "1.0" {
		return refuse(RuleFormat, g.m.place(), "GPX version "+quote(v)+" is not known", "export the file as GPX 1.1")
	}
	if err := g.m.children(g.top); err != nil {
		return err
	}
	g.noteLeftOut(g.left, "waypoint", "only tracks and routes are used here")
	g.noteLeftOut(g.short, "track or route", "of fewer than two points")
	g.noteLeftOut(g.emptySegments, "track segment", "of fewer than two points")
	return g.m.end()
}

type gpxReader struct {
	*builder
	m                          *xmlReader
	tracks, routes, waypoints  int
	left, short, emptySegments int
}

// gpxLine is a track segment or a route.
type gpxLine struct {
	points []orb.Point
	time   string // of the first point, as the file has it
}

func (g *gpxReader) top(start xml.StartElement) error {
	switch start.Name.Local {
	case "trk":
		g.tracks++
		return g.path("track", g.tracks)
	case "rte":
		g.routes++
		return g.path("route", g.routes)
	case "wpt":
		g.waypoints++
		return g.waypoint(start)
	}
	return g.m.skip()
}

// path reads a trk, whose lines are its segments, or a rte, which is one line.
func (g *gpxReader) path(kind string, number int) error {
	said := map[string]any{}
	var lines []gpxLine
	var route gpxLine
	place := func() string { name, _ := said["name"].(string); return labeled(kind, number, name) }
	err := g.m.children(func(start xml.StartElement) error {
		switch start.Name.Local {
		case "name", "desc", "type":
			n, err := g.m.node(start)
			if err == nil && n.text != "" {
				said[n.name] = n.text
			}
			return err
		case "rtept":
			return g.vertex(start, &route, place())
		case "trkseg":
			var line gpxLine
			here := fmt.Sprintf("%s, segment %d", place(), len(lines)+1)
			err := g.m.children(func(start xml.StartElement) error {
				if start.Name.Local != "trkpt" {
					return g.m.skip()
				}
				return g.vertex(start, &line, here)
			})
			lines = append(lines, line)
			return err
		}
		return g.m.skip()
	})
	if err != nil {
		return err
	}
	if kind == "route" {
		lines = []gpxLine{route}
	}
	return g.keepLines(lines, said, place(), kind)
}

// vertex reads a point of a line, and the time of the first.
func (g *gpxReader) vertex(start xml.StartElement, line *gpxLine, place string) error {
	number := len(line.points) + 1
	if err := g.room(number, place); err != nil {
		return err
	}
	p, err := g.place(start, fmt.Sprintf("%s, position %d", place, number))
	if err != nil {
		return err
	}
	line.points = append(line.points, p)
	if number > 1 {
		return g.m.skip()
	}
	n, err := g.m.node(start)
	if err == nil {
		line.time = n.textOf("time")
	}
	return err
}

func (g *gpxReader) place(start xml.StartElement, place string) (orb.Point, error) {
	lat, okLat := number(attribute(start.Attr, "lat"))
	lon, okLon := number(attribute(start.Attr, "lon"))
	if !okLat || !okLon {
		return orb.Point{}, refuse(geojson.RulePosition, place+" ("+g.m.place()+")", "no lat and lon in decimal degrees",
			"export the file again as GPX 1.1")
	}
	return orb.Point{lon, lat}, nil
}

// keepLines adds the lines of one track or route, as the caller wants them.
func (g *gpxReader) keepLines(lines []gpxLine, said map[string]any, place, kind string) error {
	kept := 0
	for i, line := range lines {
		here := place
		if len(lines) > 1 {
			here = fmt.Sprintf("%s, segment %d", place, i+1)
		}
		if len(line.points) < 2 {
			continue
		}
		kept++
		f := geojson.Feature{Geometry: orb.LineString(line.points), Properties: maps.Clone(said), Place: here}
		if line.time != "" {
			f.Properties["time"] = line.time
		}
		if g.want == Areas {
			ring, err := g.closed(line.points, here, kind)
			if err != nil {
				return err
			}
			f.Geometry = orb.Polygon{ring}
		}
		if err := g.add(f); err != nil {
			return err
		}
	}
	if kept == 0 {
		g.short++
	} else {
		g.emptySegments += len(lines) - kept
	}
	return nil
}

// closed makes a ring of a walk that came back to where it began.
func (g *gpxReader) closed(line []orb.Point, place, kind string) (orb.Ring, error) {
	if err := geojson.Check(orb.LineString(line), place); err != nil {
		return nil, err
	}
	first, last := line[0], line[len(line)-1]
	gap := geo.DistanceHaversine(first, last)
	if gap > closingGap {
		return nil, refuse(RuleClosed, place, fmt.Sprintf("a %s is a line, and this one ends %s from where it began",
			kind, meters(gap)),
			fmt.Sprintf("a track is a line: use --along with a width, or close it to within %d m", closingGap))
	}
	if first != last {
		line = append(line, first)
		g.note("%s ended %.1f m from where it began and was closed to an area.", capital(place), gap)
	} else {
		g.note("%s comes back to where it began and was taken as an area.", capital(place))
	}
	return orb.Ring(line), nil
}

func meters(m float64) string {
	if m < 10_000 {
		return fmt.Sprintf("%.0f m", m)
	}
	return fmt.Sprintf("%.0f km", m/1000)
}

// capital begins a place, which is never empty, with a capital letter.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func (g *gpxReader) waypoint(start xml.StartElement) error {
	n, err := g.m.node(start)
	if err != nil {
		return err
	}
	if g.want != Anything {
		g.left++
		return nil
	}
	place := labeled("waypoint", g.waypoints, n.textOf("name"))
	p, err := g.place(start, place)
	if err != nil {
		return err
	}
	said := map[string]any{}
	for _, name := range []string{"name", "desc", "type", "time", "sym"} {
		if s := n.textOf(name); s != "" {
			said[name] = s
		}
	}
	return g.add(geojson.Feature{Geometry: p, Properties: said, Place: place})
}

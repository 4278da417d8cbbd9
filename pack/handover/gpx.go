package handover

import (
	"encoding/xml"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// The elements of GPX 1.1 that are written, in the order of its schema.
type (
	gpxFile struct {
		XMLName   xml.Name   `xml:"http://www.topografix.com/GPX/1/1 gpx"`
		Version   string     `xml:"version,attr"`
		Creator   string     `xml:"creator,attr"`
		Name      string     `xml:"metadata>name"`
		About     string     `xml:"metadata>desc"`
		Time      string     `xml:"metadata>time,omitempty"`
		Waypoints []gpxPoint `xml:"wpt"`
		Tracks    []gpxTrack `xml:"trk"`
	}
	gpxPoint struct {
		Lat        string `xml:"lat,attr"`
		Lon        string `xml:"lon,attr"`
		Time       string `xml:"time,omitempty"`
		Name       string `xml:"name,omitempty"`
		Desc       string `xml:"desc,omitempty"`
		Source     string `xml:"src,omitempty"`
		Type       string `xml:"type,omitempty"`
		Satellites string `xml:"sat,omitempty"`
		HDOP       string `xml:"hdop,omitempty"`
	}
	gpxTrack struct {
		Name     string       `xml:"name"`
		Desc     string       `xml:"desc"`
		Source   string       `xml:"src"`
		Type     string       `xml:"type"`
		Segments []gpxSegment `xml:"trkseg"`
	}
	gpxSegment struct {
		Points []gpxPoint `xml:"trkpt"`
	}
)

// writeGPX writes points as waypoints, and lines and outlines of areas as tracks, which
// nobody walked. All fields stand in words in the description. What has no place is left
// out.
func writeGPX(title, about, changed string, finds []Find) ([]byte, error) {
	g := gpxFile{Version: "1.1", Creator: "groundsheet", Name: plainText(title), About: plainText(about), Time: changed}
	for _, f := range finds {
		switch shape := f.Geometry.(type) {
		case orb.Point:
			g.Waypoints = append(g.Waypoints, waypoint(f, shape))
		case orb.MultiLineString:
			t := track(f)
			for _, l := range shape {
				t.Segments = append(t.Segments, segment(l))
			}
			g.Tracks = append(g.Tracks, t)
		case orb.MultiPolygon:
			t := track(f)
			for _, p := range shape {
				for _, ring := range p {
					t.Segments = append(t.Segments, segment(ring))
				}
			}
			g.Tracks = append(g.Tracks, t)
		}
	}
	return marshalXML(g)
}

func waypoint(f Find, at orb.Point) gpxPoint {
	p := gpxAt(at)
	p.Name, p.Desc, p.Source, p.Type = f.title(), f.sentence(), string(f.Source), f.Utility+", "+plainText(f.Kind)
	p.Time, _ = moment(f.text("recorded"))
	if n := f.number("satellites"); n != nil && *n >= 0 && *n == math.Trunc(*n) && *n < 1e6 {
		p.Satellites = strconv.Itoa(int(*n))
	}
	if n := f.number("hdop"); n != nil {
		p.HDOP = plainNumber(*n)
	}
	return p
}

func gpxAt(p orb.Point) gpxPoint { return gpxPoint{Lat: decimal(p[1], 9), Lon: decimal(p[0], 9)} }

func track(f Find) gpxTrack {
	return gpxTrack{Name: f.title(), Desc: f.sentence(), Source: string(f.Source), Type: f.Utility + ", " + plainText(f.Kind)}
}

func segment(line []orb.Point) (s gpxSegment) {
	for _, p := range line {
		s.Points = append(s.Points, gpxAt(p))
	}
	return s
}

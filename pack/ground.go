package pack

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/area"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
)

// What a feature of a pack's area is, in its property "part".
const (
	partArea   = "area"
	partMargin = "margin"
	partRoute  = "route"
	partApart  = "apart"
)

// Ground is the ground of a job as a pack holds it.
type Ground struct {
	Area   orb.MultiPolygon // the dig area
	Margin orb.MultiPolygon // the dig area with its margin
	Routes []Route          // of the dig area, in the job's order; none in a pack of an earlier version
	Apart  orb.MultiPolygon // with its margin: what else than the routes is the dig area; nil = nothing, or no route
}

// Route is the centerline of a part of the dig area, from its first position
// on. Half of the width, in meters, lies on each side.
type Route struct {
	Line  orb.LineString
	Width float64
}

// NewGround is the ground of an area with its outline; the margin is in meters.
func NewGround(a area.Area, dig orb.MultiPolygon, margin float64) Ground {
	g := Ground{Area: dig, Margin: a.Outline(margin)}
	for _, s := range a.Strips {
		if !(s.HalfWidth > 0) {
			continue
		}
		g.Routes = append(g.Routes, Route{s.Line, 2 * s.HalfWidth})
	}
	if len(g.Routes) > 0 && len(a.Polygons)+len(a.Discs) > 0 {
		g.Apart = area.Area{Polygons: a.Polygons, Discs: a.Discs}.Outline(margin)
	}
	return g
}

// GeoJSON is the ground as it is packed and sealed.
func (g Ground) GeoJSON() ([]byte, error) {
	all := []geojson.Feature{
		{Geometry: g.Area, Properties: map[string]any{"part": partArea}},
		{Geometry: g.Margin, Properties: map[string]any{"part": partMargin}},
	}
	for i, r := range g.Routes {
		all = append(all, geojson.Feature{Geometry: r.Line, Properties: map[string]any{"part": partRoute,
			"number": i + 1, "width_m": r.Width}})
	}
	if len(g.Apart) > 0 {
		all = append(all, geojson.Feature{Geometry: g.Apart, Properties: map[string]any{"part": partApart}})
	}
	var b bytes.Buffer
	err := geojson.Write(&b, all)
	return b.Bytes(), err
}

// ReadGround reads what [Ground.GeoJSON] wrote. Where there is no margin, it is
// the dig area. The error says what is wrong in the text.
func ReadGround(text []byte) (Ground, error) {
	var g Ground
	features, err := geojson.Read(text)
	if err != nil {
		return g, err
	}
	for _, f := range features {
		switch part, _ := f.Properties["part"].(string); part {
		case partArea:
			g.Area = append(g.Area, Polygons(f.Geometry)...)
		case partMargin:
			g.Margin = append(g.Margin, Polygons(f.Geometry)...)
		case partApart:
			g.Apart = append(g.Apart, Polygons(f.Geometry)...)
		case partRoute:
			line, isLine := f.Geometry.(orb.LineString)
			width, _ := f.Properties["width_m"].(float64)
			if !isLine || len(line) == 0 || !(width > 0) || math.IsInf(width, 0) {
				return g, fmt.Errorf("route %d is no line with a width", len(g.Routes)+1)
			}
			g.Routes = append(g.Routes, Route{line, width})
		}
	}
	if len(g.Area) == 0 {
		return g, fmt.Errorf("there is none")
	}
	if len(g.Margin) == 0 {
		g.Margin = g.Area
	}
	return g, nil
}

// Polygons are the faces of a shape; nil where it is none.
func Polygons(g orb.Geometry) orb.MultiPolygon {
	switch g := g.(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}
	case orb.MultiPolygon:
		return g
	}
	return nil
}

// nearby is how far from the dig area a feature counts as recorded there at
// least, in meters: 50 ft, the longest distance between an operator's marks in
// CGA's uniform marking.
const nearby = 50 * measure.Foot

// Reach is how far from the dig area a record still tells of it, in meters:
// 50 ft, or the margin of the job where that is more.
func Reach(margin float64) float64 { return max(nearby, margin) }

// Gaps finds the notified utilities of which nothing is recorded on or within
// [Reach] of the dig area. Missing holds them all; nothingHere holds those of
// them that have a record in the pack, which shows nothing there.
func Gaps(expected []string, overlays []record.Overlay, area orb.MultiPolygon,
	margin float64) (missing, nothingHere []string) {
	missing, nothingHere = []string{}, []string{}
	for _, code := range expected {
		held := false
		shows := slices.ContainsFunc(overlays, func(o record.Overlay) bool {
			held = held || o.Kind.Code == code
			return o.Kind.Code == code && derive.ShowsNear(o, area, Reach(margin))
		})
		if shows {
			continue
		}
		missing = append(missing, code)
		if held {
			nothingHere = append(nothingHere, code)
		}
	}
	return missing, nothingHere
}

// OnlyNear finds the notified utilities whose records show something near the
// dig area and nothing in it, as drawn and as far off as they state.
func OnlyNear(expected, missing []string, overlays []record.Overlay, area orb.MultiPolygon) (only []string) {
	for _, code := range expected {
		inside := slices.ContainsFunc(overlays, func(o record.Overlay) bool { return o.Kind.Code == code && derive.ShowsNear(o, area, 0) })
		if !inside && !slices.Contains(missing, code) {
			only = append(only, code)
		}
	}
	return only
}

package crs

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles/geodesic"
)

// ByWKT resolves the well-known text of a system: WKT 1 of OGC 01-009 as GDAL and
// ESRI write it, and WKT 2 (OGC 18-010). It goes by the numbers, not by the name;
// a system of the table with the same numbers lends its code. Heights says that
// the text names a vertical system too.
func ByWKT(text string) (s System, heights bool, err error) {
	const place = "coordinate system"
	n, rest, wrong := parse(text)
	if wrong != nil {
		return s, false, refuse(place, "its text cannot be read: "+wrong.Error(), "export the file again")
	}
	name := n.name()
	for range 3 { // a system bound to a shift, in it one with heights, in it the one that counts
		switch n.word {
		case "COMPD_CS", "COMPOUNDCRS":
			if len(n.nodes) > 0 {
				n, heights = n.nodes[0], true
			}
		case "BOUNDCRS":
			if inner := n.find("SOURCECRS"); len(inner.nodes) > 0 {
				n = inner.nodes[0]
			}
		}
	}
	detail, remedy := s.read(n), convert
	if detail == "" && rest != "" {
		heights = true // ESRI writes the vertical system after a comma
		if rest[0] != ',' {
			detail = "something follows the system"
		}
	}
	if detail != "" {
		if strings.Contains(plain(text), "NORTHAMERICAN1927") || strings.Contains(plain(text), "NORTHAMERICANDATUM1927") {
			remedy = nad27
		}
		return System{}, false, refuse(place, fmt.Sprintf("the coordinates are in %.60q: %s", name, detail), remedy)
	}
	if s.Name = name; !s.Degrees() && s.ellipsoid == (geodesic.Ellipsoid{}) {
		s.registered(n.code())
	}
	return s.complete(), heights, nil
}

// read takes the system from its element and returns its fault.
func (s *System) read(n *node) string {
	switch n.word {
	case "GEOGCS", "GEOGCRS", "GEODCRS", "GEOGRAPHICCRS", "GEODETICCRS":
		return s.readDatum(n)
	case "PROJCS":
		detail := s.readDatum(n.find("GEOGCS"))
		if detail == "" {
			detail = s.readProjection(n, n, n.find("PROJECTION"))
		}
		return detail
	case "PROJCRS", "PROJECTEDCRS":
		detail := s.readDatum(n.find("BASEGEOGCRS", "BASEGEODCRS"))
		if detail == "" {
			c := n.find("CONVERSION")
			detail = s.readProjection(n, c, c.find("METHOD", "PROJECTION"))
		}
		return detail
	}
	return n.word + " is not a kind of system that is known here"
}

// readDatum checks datum, ellipsoid, prime meridian and unit of angles.
func (s *System) readDatum(n *node) string {
	datum := n.find("DATUM", "ENSEMBLE", "TRF", "GEODETICDATUM")
	spheroid := datum.find("SPHEROID", "ELLIPSOID")
	known := false
	if s.raised(datum.name(), spheroid) {
		spheroid = &node{numbers: []float64{ellipsoidOf(s.Datum).Radius, 1 / ellipsoidOf(s.Datum).Flattening}}
	} else if s.Datum, known = findDatum(datum.name()); !known {
		return fmt.Sprintf("the datum %.60q is not one that lies within a few meters of WGS 84 for certain", datum.name())
	}
	want := ellipsoidOf(s.Datum)
	radius, _ := spheroid.number(0)
	inverse, _ := spheroid.number(1)
	if !near(radius, want.Radius, 1e-3) || !near(inverse, 1/want.Flattening, 1e-6) {
		return "the spheroid does not belong to its datum"
	}
	if m, ok := n.find("PRIMEM", "PRIMEMERIDIAN").number(0); ok && m != 0 {
		return "longitude does not count from Greenwich"
	}
	unit := n.find("UNIT", "ANGLEUNIT")
	if axis := n.find("AXIS"); unit.word == "" {
		unit = axis.find("ANGLEUNIT", "UNIT")
	}
	u, ok := unit.number(0)
	if !ok && strings.HasPrefix(n.word, "BASE") { // its unit is left out: degrees are in each parameter
		return ""
	}
	if !ok || !near(u, math.Pi/180, 1e-10) {
		return "the unit of angles is not the degree"
	}
	return ""
}

// raised knows the county grids of Minnesota and Wisconsin, whose ellipsoid is GRS 80
// raised to the ground of the county; latitude and longitude are those of NAD83(HARN)
// all the same (MnDOT, "Minnesota County Coordinate System").
func (s *System) raised(datum string, spheroid *node) bool {
	const most = 1000 // meters: no county lies higher
	radius, _ := spheroid.number(0)
	inverse, _ := spheroid.number(1)
	grs80 := geodesic.GRS80()
	if !strings.HasPrefix(plain(datum), "DNAD1983HARNADJ") || !(radius > grs80.Radius && radius < grs80.Radius+most) || !near(inverse, 1/grs80.Flattening, 0.05) {
		return false
	}
	s.Datum, s.ellipsoid = "NAD83(HARN)", geodesic.Ellipsoid{Radius: radius, Flattening: 1 / inverse}
	return true
}

func near(got, want, within float64) bool { return math.Abs(got-want) <= within }

// readProjection takes unit, axes, method and parameters. The parameters are in
// another element than the unit in WKT 2.
func (s *System) readProjection(n, holder, method *node) string {
	if detail := s.readUnit(n); detail != "" {
		return detail
	}
	for _, axis := range n.nodes {
		if axis.word == "AXIS" && (slices.Contains(axis.bare, "SOUTH") || slices.Contains(axis.bare, "WEST")) {
			return "its axes count toward south or west"
		}
	}
	m, known := methodNames[plain(method.name())]
	if plain(method.name()) == "MERCATOR1SP" && strings.Contains(strings.Join(n.find("EXTENSION").texts, " "), "+a=6378137 +b=6378137 ") {
		m, known = webMercator, true // GDAL tells the sphere from the true Mercator only so
	}
	if !known {
		return fmt.Sprintf("the projection %.60q is not read here", method.name())
	}
	if m == webMercator && s.Datum != "WGS 84" {
		return "a Web Mercator that is not on WGS 84"
	}
	if _, two := holder.parameter("STANDARDPARALLEL2"); m == conic2 && !two && plain(method.name()) == "LAMBERTCONFORMALCONIC" {
		m = conic1
	}
	s.definition.method = m
	return s.readParameters(holder)
}

// readUnit knows the three units of length, both feet apart.
func (s *System) readUnit(n *node) string {
	unit := n.find("UNIT", "LENGTHUNIT")
	if axis := n.find("AXIS"); unit.word == "" {
		unit = axis.find("LENGTHUNIT", "UNIT")
	}
	factor, ok := unit.number(0)
	i := slices.IndexFunc(units, func(u Unit) bool { return near(factor, u.Meters, 1e-9) })
	if !ok || i < 0 {
		return fmt.Sprintf("the unit %.60q is not the meter or one of the two feet", unit.name())
	}
	s.Unit = units[i]
	return ""
}

// registered looks for the system of the table with the same numbers, and takes
// its code, name and use. Where several zones share their numbers, the code in
// the text decides; without one the name stays that of the text.
func (s *System) registered(code int) {
	const meters = 1e-3
	var same []System
	for _, known := range systems() {
		if known.Datum == s.Datum && known.Unit == s.Unit && known.definition.like(s.definition, meters) {
			if known.Code == code {
				*s = known
				return
			}
			same = append(same, known)
		}
	}
	if len(same) > 0 && !slices.ContainsFunc(same, func(o System) bool { return o.Use != same[0].Use }) {
		*s = same[0]
	}
}

// code is the number of the EPSG registry that an element states; 0 = none.
func (n *node) code() int {
	id := n.find("AUTHORITY", "ID")
	if !strings.EqualFold(id.name(), "EPSG") {
		return 0
	}
	if v, ok := id.number(0); ok {
		return int(v)
	}
	if len(id.texts) > 1 {
		v, _ := strconv.Atoi(id.texts[1])
		return v
	}
	return 0
}

package vector

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/geodesic"
)

// crs is what the numbers of a shapefile mean.
type crs struct {
	name      string // of the system, for messages
	datum     string
	toDegrees func(orb.Point) (orb.Point, bool) // nil for degrees
	notes     []string
}

// convert is what a user does with a system that is not known here.
const convert = "convert it with: ogr2ogr -t_srs EPSG:4326 OUT.geojson IN.shp"

// readPRJ knows a few systems by all their numbers and refuses every other:
// degrees on WGS 84 or NAD83, UTM on either, and the Web Mercator sphere. The
// text is the WKT 1 of OGC 01-009 as ESRI and GDAL write it.
func readPRJ(text string) (crs, error) {
	n, rest, err := parseCRS(text)
	if err != nil {
		return crs{}, refuse(RuleProjection, ".prj", "it cannot be read: "+err.Error(), exportAgain)
	}
	c, detail := crs{name: n.name()}, ""
	if n.word == "COMPD_CS" && len(n.nodes) > 0 { // with heights
		n = n.nodes[0]
		rest = "VERT_CS"
	}
	switch n.word {
	case "GEOGCS":
		detail = c.geographic(n)
	case "PROJCS":
		detail = c.projected(n)
	default:
		detail = n.word + " is not a kind of system that is known here"
	}
	if detail == "" && rest != "" {
		if rest[0] != ',' && rest != "VERT_CS" {
			detail = "something follows the system"
		}
		c.notes = append(c.notes, "The .prj names a vertical system; heights are left out.")
	}
	if detail != "" {
		return crs{}, refuse(RuleProjection, ".prj", fmt.Sprintf("the coordinates are in %s: %s", quote(c.name), detail),
			c.advice())
	}
	return c, nil
}

// advice is what to do with a system that is not read. A conversion that shifts
// nothing must not pass for WGS 84.
func (c *crs) advice() string {
	if c.datum == wgs84 {
		return convert
	}
	name := c.datum
	if name == "" {
		name = "as its .prj names it"
	}
	return fmt.Sprintf("%s, and state datum = %q in its [[overlay]]: that command may change the numbers from one datum to another, or may not, and does not say", convert, name)
}

func near(got, want, within float64) bool { return math.Abs(got-want) <= within }

// geographic checks a GEOGCS and returns its fault.
func (c *crs) geographic(n *crsNode) string {
	datum := n.find("DATUM")
	spheroid := datum.find("SPHEROID")
	want := geodesic.WGS84()
	name := plain(datum.name())
	switch name {
	case "DWGS1984", "WGS1984", "WGS84":
		c.datum = wgs84
	case "DNORTHAMERICAN1983", "NORTHAMERICANDATUM1983", "NORTHAMERICAN1983", "NAD83",
		"DNAD19832011", "NAD83NATIONALSPATIALREFERENCESYSTEM2011", "NAD832011":
		c.datum, want = "NAD83", grs80Ellipsoid()
		if strings.HasSuffix(name, "2011") {
			c.datum = "NAD83(2011)"
		}
		c.notes = append(c.notes, fmt.Sprintf("The coordinates are on %s. NAD83 and WGS 84 differ by a meter or more in North America; reading the file shifted nothing.", c.datum))
	default:
		return "the datum " + quote(datum.name()) + " is not known here"
	}
	radius, _ := spheroid.number(0)
	inverse, _ := spheroid.number(1)
	if !near(radius, want.Radius, 1e-3) || !near(inverse, 1/want.Flattening, 1e-6) {
		return "the spheroid does not belong to its datum"
	}
	if m, ok := n.find("PRIMEM").number(0); ok && m != 0 {
		return "longitude does not count from Greenwich"
	}
	if u, ok := n.find("UNIT").number(0); !ok || !near(u, math.Pi/180, 1e-10) {
		return "the unit of angles is not the degree"
	}
	return ""
}

// projected checks a PROJCS and returns its fault.
func (c *crs) projected(n *crsNode) string {
	geographic := n.find("GEOGCS")
	if detail := c.geographic(geographic); detail != "" {
		return detail
	}
	projection := n.find("PROJECTION").name()
	if !slices.Contains([]string{"TRANSVERSEMERCATOR", "MERCATORAUXILIARYSPHERE", "POPULARVISUALISATIONPSEUDOMERCATOR",
		"MERCATOR1SP"}, plain(projection)) {
		return "the projection " + quote(projection) + " is not read here"
	}
	if u, ok := n.find("UNIT").number(0); !ok || u != 1 {
		return "the unit " + quote(n.find("UNIT").name()) + " is not the meter"
	}
	switch plain(projection) {
	case "TRANSVERSEMERCATOR":
		return c.utm(n)
	case "MERCATORAUXILIARYSPHERE", "POPULARVISUALISATIONPSEUDOMERCATOR":
		return c.webMercator(n)
	case "MERCATOR1SP":
		if onSphere(n) {
			return c.webMercator(n)
		}
	}
	return "a Mercator on the ellipsoid"
}

// onSphere distinguishes the Web Mercator sphere from the true Mercator, which
// share a name in WKT 1; GDAL adds the definition of the other program library.
func onSphere(n *crsNode) bool {
	definition := strings.Join(n.find("EXTENSION").texts, " ")
	return strings.Contains(definition, "+a=6378137 +b=6378137 ")
}

// parameter finds a parameter of a projection by its plain name.
func parameter(n *crsNode, names ...string) (float64, bool) {
	for _, p := range n.nodes {
		for _, name := range names {
			if p.word == "PARAMETER" && plain(p.name()) == name {
				return p.number(0)
			}
		}
	}
	return 0, false
}

// utm knows a transverse Mercator that is a UTM zone, by its numbers.
func (c *crs) utm(n *crsNode) string {
	const notUTM = "a transverse Mercator that is no UTM zone"
	meridian, ok1 := parameter(n, "CENTRALMERIDIAN", "LONGITUDEOFCENTER")
	scale, ok2 := parameter(n, "SCALEFACTOR")
	east, ok3 := parameter(n, "FALSEEASTING")
	north, ok4 := parameter(n, "FALSENORTHING")
	origin, ok5 := parameter(n, "LATITUDEOFORIGIN", "LATITUDEOFCENTER")
	zone := (meridian + 183) / 6
	switch {
	case !ok1 || !ok2 || !ok3 || !ok4 || !ok5:
		return "a parameter of the projection is missing"
	case zone != math.Trunc(zone) || zone < 1 || zone > 60,
		!near(scale, 0.9996, 1e-12), east != 500_000, north != 0 && north != 10_000_000, origin != 0:
		return notUTM
	}
	half := "north"
	if north != 0 {
		half = "south"
	}
	e := geodesic.WGS84()
	if c.datum != wgs84 {
		e = grs80Ellipsoid()
	}
	c.name = fmt.Sprintf("UTM zone %.0f %s", zone, half)
	c.toDegrees = geodesic.NewTransverse(e, meridian, scale, east, north).Inverse
	c.notes = append(c.notes, fmt.Sprintf("Coordinates were converted from %s (%s) to degrees.", c.name, c.datum))
	return ""
}

func (c *crs) webMercator(n *crsNode) string {
	for _, p := range n.nodes {
		v, ok := p.number(0)
		want := 0.0
		if plain(p.name()) == "SCALEFACTOR" {
			want = 1
		}
		if p.word == "PARAMETER" && (!ok || v != want) {
			return "a Web Mercator with unusual parameters"
		}
	}
	if c.datum != wgs84 {
		return "a Web Mercator that is not on WGS 84"
	}
	c.name = "Web Mercator"
	c.toDegrees = fromWebMercator
	c.notes = append(c.notes, "Coordinates were converted from Web Mercator to degrees.")
	return ""
}

func grs80Ellipsoid() geodesic.Ellipsoid {
	return geodesic.Ellipsoid{Radius: 6378137, Flattening: 1 / 298.257222101}
}

// worldWidth is the width of the Web Mercator square, in its meters.
const worldWidth = 2 * math.Pi * tiles.EarthRadius

// fromWebMercator turns meters of the Web Mercator sphere (EPSG method 1024)
// into degrees. Positions off the world square are not ok.
func fromWebMercator(p orb.Point) (orb.Point, bool) {
	x, y := p[0]/worldWidth+0.5, 0.5-p[1]/worldWidth
	lon, lat := tiles.Unproject(x, y)
	return orb.Point{lon, lat}, x >= 0 && x <= 1 && y >= 0 && y <= 1
}

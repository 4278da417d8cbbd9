package crs

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
)

const wgs84PRJ = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`

func TestWKT(t *testing.T) {
	geogcs := wgs84PRJ
	nad2011 := `GEOGCS["GCS_NAD_1983_2011",DATUM["D_NAD_1983_2011",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	utm := func(projcs string) string { return strings.Replace(projcs, "GEO", geogcs, 1) }
	const zone59 = `PROJCS["x",GEO,PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",10000000.0],PARAMETER["Central_Meridian",171.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
	const mercator = `PROJCS["WGS 84 / Pseudo-Mercator",GEO,PROJECTION["Mercator_1SP"],PARAMETER["central_meridian",0],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST]EXT,AUTHORITY["EPSG","3857"]]`
	const extension = `,EXTENSION["PROJ4","+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +wktext +no_defs"]`
	const colorado = `PROJCS["NAD_1983_StatePlane_Colorado_North_FIPS_0501_Feet",GEOGCS["GCS_North_American_1983",DATUM["D_North_American_1983",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic"],PARAMETER["False_Easting",3000000.000316083],PARAMETER["False_Northing",999999.999996],PARAMETER["Central_Meridian",-105.5],PARAMETER["Standard_Parallel_1",39.71666666666667],PARAMETER["Standard_Parallel_2",40.78333333333333],PARAMETER["Latitude_Of_Origin",39.33333333333334],UNIT["Foot_US",0.3048006096012192]]`
	const wkt2 = `PROJCRS["NAD83(2011) / Colorado North (ftUS)",BASEGEOGCRS["NAD83(2011)",DATUM["NAD83 (National Spatial Reference System 2011)",ELLIPSOID["GRS 1980",6378137,298.257222101,LENGTHUNIT["metre",1]]],PRIMEM["Greenwich",0,ANGLEUNIT["degree",0.0174532925199433]]],CONVERSION["SPCS83 Colorado North zone (US Survey feet)",METHOD["Lambert Conic Conformal (2SP)",ID["EPSG",9802]],PARAMETER["Latitude of false origin",39.3333333333333,ANGLEUNIT["degree",0.0174532925199433]],PARAMETER["Longitude of false origin",-105.5],PARAMETER["Latitude of 1st standard parallel",40.7833333333333],PARAMETER["Latitude of 2nd standard parallel",39.7166666666667],PARAMETER["Easting at false origin",3000000,LENGTHUNIT["US survey foot",0.304800609601219]],PARAMETER["Northing at false origin",1000000,LENGTHUNIT["US survey foot",0.304800609601219]]],CS[Cartesian,2],AXIS["easting (X)",east],AXIS["northing (Y)",north],LENGTHUNIT["US survey foot",0.304800609601219]]`
	tests := []struct {
		name, text, datum string
		refused           string // "" means that it is taken
		system            string // what it is taken for, in words
	}{
		{"State Plane as ESRI writes it", colorado, "NAD83", "", "NAD83 / Colorado North (ftUS), EPSG:2231, in us survey ft"},
		{"State Plane in the other foot", strings.Replace(colorado, "0.3048006096012192", "0.3048", 1), "NAD83", "", "NAD_1983_StatePlane_Colorado_North_FIPS_0501_Feet, in ft"},
		{"State Plane as WKT 2", wkt2, "NAD83(2011)", "", "NAD83(2011) / Colorado North (ftUS), EPSG:6430, in us survey ft"},
		{"bound to a shift", `BOUNDCRS[SOURCECRS[` + wkt2 + `],TARGETCRS[GEOGCRS["WGS 84"]]]`, "NAD83(2011)", "", "EPSG:6430"},
		{"a rotated grid", strings.Replace(colorado, `PARAMETER["Latitude_Of`, `PARAMETER["XY_Plane_Rotation",12.5],PARAMETER["Latitude_Of`, 1), "", "XY_Plane_Rotation", ""},
		{"an angle that was lost", `PROJCS["unnamed",GEOGCS["a",DATUM["North American Datum 1983",SPHEROID["GRS 80",6378137,298.257222101]],UNIT["degree",0.0174532925199433]],PROJECTION["Hotine_Oblique_Mercator"],PARAMETER["latitude_of_center",45.3091666666667],PARAMETER["longitude_of_center",-86],PARAMETER["azimuth",337.25556],PARAMETER["rectified_grid_angle",90],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",2546731.496],PARAMETER["false_northing",-4354009.816],UNIT["metre",1]]`, "", "do not fit together", ""},
		{"a foot of its own", strings.Replace(colorado, "0.3048006096012192", "0.3047972654", 1), "", "two feet", ""},
		{"counting south", strings.Replace(colorado, `UNIT["Foot`, `AXIS["Y",SOUTH],UNIT["Foot`, 1), "", "toward south", ""},
		{"WGS 84 as GDAL writes it", `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]`, "WGS 84", "", ""},
		{"blanks and line ends", strings.ReplaceAll(geogcs, ",", " ,\r\n "), "WGS 84", "", ""},
		{"a zero byte at the end", geogcs + "\x00\n", "WGS 84", "", ""},
		{"NAD83(2011)", nad2011, "NAD83(2011)", "", "GCS_NAD_1983_2011"},
		{"UTM south", utm(zone59), "WGS 84", "", "WGS 84 / UTM zone 59S, EPSG:32759, in m"},
		{"with heights", `COMPD_CS["x",` + geogcs + `,VERT_CS["NAVD88 height",VERT_DATUM["North American Vertical Datum 1988",2005],UNIT["metre",1]]]`, "WGS 84", "", ""},
		{"with ESRI heights", geogcs + `,VERTCS["NAVD_1988",VDATUM["North_American_Vertical_Datum_1988"],UNIT["Meter",1.0]]`, "WGS 84", "", ""},
		{"Web Mercator by its definition", utm(strings.Replace(mercator, "EXT", extension, 1)), "WGS 84", "", "EPSG:3857"},
		{"true Mercator", utm(strings.Replace(mercator, "EXT", "", 1)), "", "Mercator_1SP", ""},
		{"UTM in feet", utm(strings.Replace(zone59, `"Meter",1.0`, `"Foot_US",0.3048006096`, 1)), "WGS 84", "", "x, in us survey ft"},
		{"no UTM zone", utm(strings.Replace(zone59, `171.0`, `172.0`, 1)), "WGS 84", "", "x, in m"},
		{"another scale", utm(strings.Replace(zone59, `0.9996`, `0.99995`, 1)), "WGS 84", "", "x, in m"},
		{"a parameter short", utm(strings.Replace(zone59, `PARAMETER["Scale_Factor",0.9996],`, ``, 1)), "", "missing", ""},
		{"NAD27", strings.NewReplacer("D_WGS_1984", "D_North_American_1927").Replace(geogcs), "", "D_North_American_1927", ""},
		{"a spheroid of another datum", strings.Replace(geogcs, "298.257223563", "294.978698214", 1), "", "spheroid", ""},
		{"Paris", strings.Replace(geogcs, `"Greenwich",0.0`, `"Paris",2.33722917`, 1), "", "Greenwich", ""},
		{"gon", strings.Replace(geogcs, `0.0174532925199433`, `0.015707963267949`, 1), "", "not the degree", ""},
		{"no unit", strings.Replace(geogcs, `,UNIT["Degree",0.0174532925199433]`, ``, 1), "", "not the degree", ""},
		{"a local system", `LOCAL_CS["site grid",UNIT["m",1]]`, "", "LOCAL_CS", ""},
		{"WKT 2", `GEOGCRS["WGS 84",ENSEMBLE["World Geodetic System 1984 ensemble",MEMBER["a"],ELLIPSOID["WGS 84",6378137,298.257223563]],CS[ellipsoidal,2],AXIS["lat",north],AXIS["lon",east],ANGLEUNIT["degree",0.0174532925199433]]`, "WGS 84", "", "WGS 84"},
		{"two systems", geogcs + geogcs, "", "something follows", ""},
		{"a code", "EPSG:4326", "", "cannot be read", ""},
		{"cut off", geogcs[:60], "", "ends too soon", ""},
		{"an open quote", `GEOGCS["x`, "", "not closed", ""},
		{"nested without end", strings.Repeat("A[", 1000), "", "too deep", ""},
		{"long without end", strings.Repeat(" ", maxText+1), "", "more than", ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c, heights, err := ByWKT(test.text)
			if test.refused != "" {
				var f *fault.Fault
				if !errors.As(err, &f) || f.Kind != RuleSystem || f.Remedy == "" || !strings.Contains(f.Detail, test.refused) {
					t.Fatalf("%v; want %q", err, test.refused)
				}
				return
			}
			if err != nil || c.Datum != test.datum || !strings.Contains(c.Text(), test.system) {
				t.Fatalf("%s on %q, %v", c.Text(), c.Datum, err)
			}
			if heights != strings.Contains(test.name, "heights") {
				t.Errorf("heights %v", heights)
			}
		})
	}
}

// A county grid on a raised ellipsoid: PROJ 9.1.1 (proj -I with its +a and +rf) gives
// 44.9637876640, -93.2249427685.
func TestRaisedEllipsoid(t *testing.T) {
	s, _, err := ByWKT(`PROJCS["NAD_1983_HARN_Adj_MN_Hennepin_Feet",GEOGCS["GCS_NAD_1983_HARN_Adj_MN_Hennepin",DATUM["D_NAD_1983_HARN_Adj_MN_Hennepin",SPHEROID["S_GRS_1980_Adj_MN_Hennepin",6378418.941,298.257222100883]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",100000.0],PARAMETER["Central_Meridian",-93.3833333333333],PARAMETER["Standard_Parallel_1",44.8833333333333],PARAMETER["Standard_Parallel_2",45.1333333333333],PARAMETER["Latitude_Of_Origin",44.7911111111111],UNIT["US survey foot",0.304800609601219]]`)
	if err != nil || s.Datum != "NAD83(HARN)" || s.Unit.Name != "us survey ft" {
		t.Fatal(s.Text(), err)
	}
	got, ok := s.ToDegrees(orb.Point{541000.5, 163000.25})
	if off := geodesic.Distance(got, orb.Point{-93.2249427685, 44.9637876640}); !ok || off > 1e-3 {
		t.Errorf("%v, %.4f m off", got, off)
	}
}

func FuzzWKT(f *testing.F) {
	for _, code := range []string{wgs84PRJ, `COMPD_CS["a",PROJCS["x",GEOGCS["y",DATUM["NAD83"]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],UNIT["Meter",1.0]]]`} {
		f.Add(code, 500_000.0, 4_428_000.0)
	}
	for _, name := range []string{"site-4326", "site-4269", "site-3857", "site-26913", "site-32613", "site-2232"} {
		text, err := os.ReadFile("../vector/testdata/" + name + ".prj")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text), 3_100_000.0, 1_700_000.0)
	}
	f.Fuzz(func(t *testing.T, text string, x, y float64) {
		s, _, err := ByWKT(text)
		if err != nil {
			return
		}
		if p, ok := s.ToDegrees(orb.Point{x, y}); ok && !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
			t.Errorf("%v, %v is at %v", x, y, p)
		}
	})
}

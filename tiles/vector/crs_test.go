package vector

import (
	"strings"
	"testing"
)

func TestPRJ(t *testing.T) {
	geogcs := wgs84PRJ
	nad2011 := `GEOGCS["GCS_NAD_1983_2011",DATUM["D_NAD_1983_2011",SPHEROID["GRS_1980",6378137.0,298.257222101]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	utm := func(projcs string) string { return strings.Replace(projcs, "GEO", geogcs, 1) }
	const zone59 = `PROJCS["x",GEO,PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",10000000.0],PARAMETER["Central_Meridian",171.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
	const mercator = `PROJCS["WGS 84 / Pseudo-Mercator",GEO,PROJECTION["Mercator_1SP"],PARAMETER["central_meridian",0],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST]EXT,AUTHORITY["EPSG","3857"]]`
	const extension = `,EXTENSION["PROJ4","+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +wktext +no_defs"]`
	tests := []struct {
		name, text, datum string
		refused           string // "" means that it is taken
		note              string
	}{
		{"WGS 84 as GDAL writes it", `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]`, "WGS 84", "", ""},
		{"blanks and line ends", strings.ReplaceAll(geogcs, ",", " ,\r\n "), "WGS 84", "", ""},
		{"a zero byte at the end", geogcs + "\x00\n", "WGS 84", "", ""},
		{"NAD83(2011)", nad2011, "NAD83(2011)", "", "on NAD83(2011)"},
		{"UTM south", utm(zone59), "WGS 84", "", "UTM zone 59 south"},
		{"with heights", `COMPD_CS["x",` + geogcs + `,VERT_CS["NAVD88 height",VERT_DATUM["North American Vertical Datum 1988",2005],UNIT["metre",1]]]`, "WGS 84", "", "heights are left out"},
		{"with ESRI heights", geogcs + `,VERTCS["NAVD_1988",VDATUM["North_American_Vertical_Datum_1988"],UNIT["Meter",1.0]]`, "WGS 84", "", "heights are left out"},
		{"Web Mercator by its definition", utm(strings.Replace(mercator, "EXT", extension, 1)), "WGS 84", "", "Web Mercator"},
		{"true Mercator", utm(strings.Replace(mercator, "EXT", "", 1)), "", "Mercator on the ellipsoid", ""},
		{"UTM in feet", utm(strings.Replace(zone59, `"Meter",1.0`, `"Foot_US",0.3048006096`, 1)), "", "Foot_US", ""},
		{"no UTM zone", utm(strings.Replace(zone59, `171.0`, `172.0`, 1)), "", "no UTM zone", ""},
		{"another scale", utm(strings.Replace(zone59, `0.9996`, `0.99995`, 1)), "", "no UTM zone", ""},
		{"a parameter short", utm(strings.Replace(zone59, `PARAMETER["Scale_Factor",0.9996],`, ``, 1)), "", "missing", ""},
		{"NAD27", strings.NewReplacer("D_WGS_1984", "D_North_American_1927").Replace(geogcs), "", "D_North_American_1927", ""},
		{"a spheroid of another datum", strings.Replace(geogcs, "298.257223563", "294.978698214", 1), "", "spheroid", ""},
		{"Paris", strings.Replace(geogcs, `"Greenwich",0.0`, `"Paris",2.33722917`, 1), "", "Greenwich", ""},
		{"gon", strings.Replace(geogcs, `0.0174532925199433`, `0.015707963267949`, 1), "", "not the degree", ""},
		{"no unit", strings.Replace(geogcs, `,UNIT["Degree",0.0174532925199433]`, ``, 1), "", "not the degree", ""},
		{"a local system", `LOCAL_CS["site grid",UNIT["m",1]]`, "", "LOCAL_CS", ""},
		{"WKT 2", `GEOGCRS["WGS 84",DATUM["World Geodetic System 1984",ELLIPSOID["WGS 84",6378137,298.257223563]]]`, "", "GEOGCRS", ""},
		{"two systems", geogcs + geogcs, "", "something follows", ""},
		{"a code", "EPSG:4326", "", "cannot be read", ""},
		{"cut off", geogcs[:60], "", "ends too soon", ""},
		{"an open quote", `GEOGCS["x`, "", "not closed", ""},
		{"nested without end", strings.Repeat("A[", 1000), "", "too deep", ""},
		{"long without end", strings.Repeat(" ", maxCRSText+1), "", "more than", ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c, err := readPRJ(test.text)
			if test.refused != "" {
				refusal(t, err, RuleProjection, ".prj", test.refused)
				return
			}
			if err != nil || c.datum != test.datum {
				t.Fatalf("datum %q, %v", c.datum, err)
			}
			if all := strings.Join(c.notes, " "); !strings.Contains(all, test.note) || test.note == "" && all != "" {
				t.Errorf("notes %q; want %q", all, test.note)
			}
		})
	}
}

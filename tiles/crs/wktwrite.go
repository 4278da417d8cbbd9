package crs

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// spelling is how ESRI's text, which a .prj file holds, names a method of projection
// and its parameters, in the order of [definition].
type spelling struct {
	method     string
	parameters []string
}

var spellings = map[method]spelling{
	webMercator: {"Mercator_Auxiliary_Sphere", []string{"", "Central_Meridian", "False_Easting", "False_Northing"}},
	conic1:      {"Lambert_Conformal_Conic", []string{"Latitude_Of_Origin", "Central_Meridian", "Scale_Factor", "False_Easting", "False_Northing"}},
	conic2: {"Lambert_Conformal_Conic", []string{"Latitude_Of_Origin", "Central_Meridian", "Standard_Parallel_1", "Standard_Parallel_2",
		"False_Easting", "False_Northing"}},
	transverse: {"Transverse_Mercator", []string{"Latitude_Of_Origin", "Central_Meridian", "Scale_Factor", "False_Easting", "False_Northing"}},
	obliqueA: {"Hotine_Oblique_Mercator_Azimuth_Natural_Origin", []string{"Latitude_Of_Center", "Longitude_Of_Center", "Azimuth",
		"Rectified_Grid_Angle", "Scale_Factor", "False_Easting", "False_Northing"}},
	obliqueB: {"Hotine_Oblique_Mercator_Azimuth_Center", []string{"Latitude_Of_Center", "Longitude_Of_Center", "Azimuth",
		"Rectified_Grid_Angle", "Scale_Factor", "False_Easting", "False_Northing"}},
	equalArea: {"Albers", []string{"Latitude_Of_Origin", "Central_Meridian", "Standard_Parallel_1", "Standard_Parallel_2",
		"False_Easting", "False_Northing"}},
}

// esriDatums are the names of datums in ESRI's text, behind D_; others have their own.
var esriDatums = map[string]string{
	"WGS 84": "WGS_1984", "NAD83": "North_American_1983", "NAD83(HARN)": "NAD_1983_HARN", "NAD83(CORS96)": "NAD_1983_CORS96",
	"NAD83(NSRS2007)": "NAD_1983_NSRS2007", "NAD83(2011)": "NAD_1983_2011", "NAD83(PA11)": "NAD_1983_PA11",
	"NAD83(MA11)": "NAD_1983_MA11", "NAD83(CSRS)": "North_American_1983_CSRS", "ETRS89": "ETRS_1989",
}

// WKT is the text of the system in WKT 1 as ESRI writes it, which a .prj file holds.
// The name of the system goes along, its number does not: readers go by the numbers.
func (s System) WKT() string {
	e, datum := ellipsoidOf(s.Datum), s.Datum
	if known, ok := esriDatums[s.Datum]; ok {
		datum = known
	}
	spheroid := "GRS_1980"
	if s.Datum == "WGS 84" {
		spheroid = "WGS_1984"
	}
	degrees := s.Name
	if !s.Degrees() {
		degrees = s.Datum
	}
	text := fmt.Sprintf(`GEOGCS[%q,DATUM["D_%s",SPHEROID["%s",%s,%s]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`,
		degrees, datum, spheroid, number(e.Radius), strconv.FormatFloat(1/e.Flattening, 'g', 12, 64))
	if s.Degrees() {
		return text
	}
	how := spellings[s.definition.method]
	var b strings.Builder
	fmt.Fprintf(&b, `PROJCS[%q,%s,PROJECTION["%s"]`, s.Name, text, how.method)
	for i, name := range how.parameters {
		if name == "" {
			continue
		}
		v := s.definition.numbers[i]
		if strings.HasPrefix(name, "False") {
			v = math.Round(v/s.Unit.Meters*1e7) / 1e7
		}
		fmt.Fprintf(&b, `,PARAMETER["%s",%s]`, name, number(v))
	}
	switch s.definition.method {
	case conic1: // its one parallel
		fmt.Fprintf(&b, `,PARAMETER["Standard_Parallel_1",%s]`, number(s.definition.numbers[0]))
	case webMercator:
		b.WriteString(`,PARAMETER["Standard_Parallel_1",0.0],PARAMETER["Auxiliary_Sphere_Type",0.0]`)
	}
	unit := map[string]string{"m": "Meter", "ft": "Foot", "us survey ft": "Foot_US"}[s.Unit.Name]
	fmt.Fprintf(&b, `,UNIT["%s",%s]]`, unit, number(s.Unit.Meters))
	return b.String()
}

// number writes a number as WKT has it: always with a point.
func number(v float64) string {
	text := strconv.FormatFloat(v, 'f', -1, 64)
	if !strings.Contains(text, ".") {
		text += ".0"
	}
	return text
}

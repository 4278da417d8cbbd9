package crs

import (
	"strings"

	"groundsheet/tiles/geodesic"
)

// datums are those whose numbers lie within a few meters of WGS 84, with the
// other names that .prj files have for them. Numbers on any other datum would
// be drawn as far off as a hundred meters, so their systems are refused.
var datums = []struct {
	name    string
	aliases []string // as plain gives them; the name itself is one
}{
	{"WGS 84", []string{"WGS1984", "WORLDGEODETICSYSTEM1984", "WORLDGEODETICSYSTEM1984ENSEMBLE"}},
	{"NAD83", []string{"NORTHAMERICAN1983", "NORTHAMERICANDATUM1983", "NAD1983"}},
	{"NAD83(HARN)", []string{"NORTHAMERICAN1983HARN", "NAD83HIGHACCURACYREFERENCENETWORK", "NAD1983HARN"}},
	{"NAD83(CORS96)", []string{"NAD1983CORS96", "NAD83CONTINUOUSLYOPERATINGREFERENCESTATION1996", "NORTHAMERICAN1983CORS96"}},
	{"NAD83(NSRS2007)", []string{"NAD1983NSRS2007", "NAD83NATIONALSPATIALREFERENCESYSTEM2007"}},
	{"NAD83(2011)", []string{"NAD19832011", "NAD83NATIONALSPATIALREFERENCESYSTEM2011"}},
	{"NAD83(PA11)", []string{"NAD1983PA11", "NAD83NATIONALSPATIALREFERENCESYSTEMPA11"}},
	{"NAD83(MA11)", []string{"NAD1983MA11", "NAD83NATIONALSPATIALREFERENCESYSTEMMA11"}},
	{"NAD83(CSRS)", []string{"NORTHAMERICAN1983CSRS", "NAD83CANADIANSPATIALREFERENCESYSTEM", "NAD1983CSRS"}},
	{"NAD83(CSRS)v6", []string{"NORTHAMERICANDATUMOF1983CSRSVERSION6"}},
	{"NAD83(CSRS)v7", []string{"NORTHAMERICANDATUMOF1983CSRSVERSION7"}},
	{"ETRS89", []string{"ETRS1989", "EUROPEANTERRESTRIALREFERENCESYSTEM1989", "EUROPEANTERRESTRIALREFERENCESYSTEM1989ENSEMBLE"}},
	{"SWEREF99", []string{"SWEREF1999"}},
	{"RGF93 v1", []string{"RGF1993", "RESEAUGEODESIQUEFRANCAIS1993", "RESEAUGEODESIQUEFRANCAIS1993V1", "RGF93"}},
	{"RGF93 v2", []string{"RESEAUGEODESIQUEFRANCAIS1993V2"}},
	{"RGF93 v2b", []string{"RESEAUGEODESIQUEFRANCAIS1993V2B"}},
	{"IRENET95", nil},
	{"ETRF2000-PL", []string{"ETRF2000POLAND"}},
	{"RDN2008", []string{"RETEDINAMICANAZIONALE2008"}},
	{"GDA94", []string{"GDA1994", "GEOCENTRICDATUMOFAUSTRALIA1994"}},
	{"GDA2020", []string{"GEOCENTRICDATUMOFAUSTRALIA2020"}},
	{"NZGD2000", []string{"NEWZEALANDGEODETICDATUM2000", "NZGD2000"}},
	{"SIRGAS 2000", []string{"SISTEMADEREFERENCIAGEOCENTRICOPARALASAMERICAS2000"}},
	{"JGD2011", []string{"JAPANESEGEODETICDATUM2011"}},
}

// findDatum knows a datum by one of its names.
func findDatum(name string) (string, bool) {
	key := plain(name)
	for _, short := range []string{key, strings.TrimPrefix(key, "D")} { // ESRI writes D_ before it
		for _, d := range datums {
			if short == plain(d.name) {
				return d.name, true
			}
			for _, alias := range d.aliases {
				if short == alias {
					return d.name, true
				}
			}
		}
	}
	return "", false
}

// ellipsoidOf is the ellipsoid of a datum of the list.
func ellipsoidOf(datum string) geodesic.Ellipsoid {
	if datum == "WGS 84" {
		return geodesic.WGS84()
	}
	return geodesic.GRS80()
}

// plain gives a name without case, blanks and marks, which programs write each
// in their own way.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToUpper(name))
}

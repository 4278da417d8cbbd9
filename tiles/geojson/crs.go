package geojson

import (
	"encoding/json"
	"fmt"
	"strings"
)

// checkCRS refuses an object whose old "crs" member (GeoJSON of 2008; removed
// by RFC 7946, section 4) names anything but WGS 84. EPSG:4326 in such files
// still means longitude first.
func checkCRS(o object, place string) error {
	raw, ok := o["crs"]
	if !ok {
		return nil
	}
	var crs struct {
		Properties struct {
			Name string `json:"name"`
		} `json:"properties"`
	}
	const remedy = "export the shapes as WGS 84 longitude and latitude (EPSG:4326)"
	if err := json.Unmarshal(raw, &crs); err != nil || crs.Properties.Name == "" {
		return refuse(RuleCRS, place, `member "crs" names no coordinate reference system that can be read`, remedy)
	}
	if !wgs84(crs.Properties.Name) {
		return refuse(RuleCRS, place, fmt.Sprintf("coordinates are in %q, not WGS 84", crs.Properties.Name), remedy)
	}
	return nil
}

// wgs84 knows the short, the URN and the URI forms of OGC:CRS84 and EPSG:4326.
func wgs84(name string) bool {
	s := strings.ToUpper(strings.TrimSpace(name))
	for _, prefix := range []string{"HTTPS://", "HTTP://", "WWW.OPENGIS.NET/DEF/CRS/", "URN:OGC:DEF:CRS:", "URN:X-OGC:DEF:CRS:"} {
		s = strings.TrimPrefix(s, prefix)
	}
	parts := strings.FieldsFunc(s, func(r rune) bool { return r == ':' || r == '/' })
	switch n := len(parts); {
	case n == 1:
		return parts[0] == "CRS84"
	case n == 2 || n == 3: // authority, perhaps a version, code
		return parts[0] == "OGC" && parts[n-1] == "CRS84" || parts[0] == "EPSG" && parts[n-1] == "4326"
	}
	return false
}

package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// exactWhole is the largest whole number below which float64 holds every one.
const exactWhole = 1 << 53

func identity(raw json.RawMessage, place string) (string, error) {
	if len(raw) == 0 || isNull(raw) {
		return "", nil
	}
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text, nil
	}
	var number json.Number
	if json.Unmarshal(raw, &number) == nil {
		return number.String(), nil
	}
	return "", refuse(RuleMember, place, `member "id" is `+sort(raw), "an id is a text or a number")
}

func properties(raw json.RawMessage, place string) (map[string]any, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var p map[string]any
	if err := d.Decode(&p); err != nil {
		return nil, refuse(RuleMember, place, `member "properties" is `+sort(raw), "properties are an object or null")
	}
	for k, v := range p {
		p[k] = plain(v)
	}
	return p, nil
}

// plain turns numbers into float64 where that keeps them.
func plain(v any) any {
	switch v := v.(type) {
	case json.Number:
		f, err := strconv.ParseFloat(v.String(), 64)
		whole := !strings.ContainsAny(v.String(), ".eE")
		if err != nil || whole && (f >= exactWhole || f <= -exactWhole) {
			return v
		}
		return f
	case []any:
		for i := range v {
			v[i] = plain(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = plain(v[k])
		}
	}
	return v
}

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
	const remedy = "export the shapes as GeoPackage or shapefile, which say what their numbers mean, or as WGS 84 longitude and latitude"
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
	for _, prefix := range []string{"HTTPS://", "HTTP://", "WWW.OPENGIS.NET/DEF/CRS/", "URN:OGC:DEF:CRS:",
		"URN:X-OGC:DEF:CRS:"} {
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

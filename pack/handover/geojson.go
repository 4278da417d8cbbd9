package handover

import (
	"bytes"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// writeGeoJSON writes finds as RFC 7946: degrees always, outer rings counterclockwise,
// null for what is not stated.
func writeGeoJSON(finds []Find) ([]byte, error) {
	fields := Fields()
	all := make([]geojson.Feature, 0, len(finds))
	for _, f := range finds {
		p := map[string]any{}
		for i, v := range f.values(fields) {
			p[fields[i].Name] = v
		}
		all = append(all, geojson.Feature{ID: f.ID, Geometry: simple(f.Geometry), Properties: p})
	}
	var out bytes.Buffer
	err := geojson.Write(&out, all)
	return out.Bytes(), err
}

// simple is a shape of one part as that part, with rings turned as RFC 7946 wants them.
func simple(g orb.Geometry) orb.Geometry {
	switch g := g.(type) {
	case orb.MultiLineString:
		if len(g) == 1 {
			return g[0]
		}
	case orb.MultiPolygon:
		turned := g.Clone()
		for _, p := range turned {
			for i, ring := range p {
				if (ring.Orientation() == orb.CCW) != (i == 0) {
					ring.Reverse()
				}
			}
		}
		if len(turned) == 1 {
			return turned[0]
		}
		return turned
	}
	return g
}

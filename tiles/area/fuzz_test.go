package area

import (
	"math"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
)

// FuzzCovers: whatever a file holds, reading it into an area and covering it
// comes to an end without a panic, and an area that is not empty has a tile at
// every zoom.
func FuzzCovers(f *testing.F) {
	for _, seed := range []string{
		`{"type":"Polygon","coordinates":[[[-105,40],[-104.99,40],[-104.99,40.01],[-105,40]],[[-104.995,40.001],[-104.993,40.001],[-104.993,40.002],[-104.995,40.001]]]}`,
		`{"type":"MultiPolygon","coordinates":[[[[0,0],[180,85],[180,-85],[0,0]]],[[[-180,85],[-180,-85],[0,0],[-180,85]]]]}`,
		`{"type":"Polygon","coordinates":[[[0,0],[4,0],[2,2],[4,4],[0,4],[2,2],[0,0]],[[1,1],[2,1],[1.5,1.2],[1,1]]]}`,
		`{"type":"LineString","coordinates":[[179.9,0],[179.99999,1],[179.9,85.05]]}`,
		`{"type":"MultiLineString","coordinates":[[[0,0],[0,0],[90,0]],[[1,1],[2,2]]]}`,
		`{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[[[0,0],[1e-9,0],[0,1e-9],[0,0]]]}]}`,
	} {
		f.Add([]byte(seed), 25.0)
		f.Add([]byte(seed), math.NaN())
	}
	f.Fuzz(func(t *testing.T, data []byte, margin float64) {
		features, err := geojson.Read(data)
		if err != nil || len(data) > 2000 { // the time grows with edges times rows
			return
		}
		a, err := Polygons(features)
		if err != nil {
			if a, err = Route(features, 20); err != nil {
				return
			}
		}
		for _, c := range a.Covers(tiles.Zooms{Min: 0, Max: 7}, margin) {
			if c.Count() == 0 {
				t.Errorf("no tile at zoom %d", c.Zoom())
			}
			for _, s := range c.Spans() {
				if end := uint32(1)<<c.Zoom() - 1; s.Last > end || s.Row > end || s.First > s.Last {
					t.Errorf("zoom %d: span %v", c.Zoom(), s)
				}
			}
		}
		a.SquareMeters()
		a.Bounds()
		if margin < MaxReach {
			a.Outline(margin)
		}
	})
}

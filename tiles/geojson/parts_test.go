package geojson

import (
	"fmt"
	"testing"

	"github.com/paulmach/orb"
)

func ExampleParts() {
	line := orb.LineString{{0, 0}, {1, 1}}
	for part := range Parts(orb.Collection{orb.MultiPoint{{0, 0}, {1, 1}}, orb.MultiLineString{line}}) {
		fmt.Println(part.GeoJSONType())
	}
	// Output:
	// Point
	// Point
	// LineString
}

func TestPartsStops(t *testing.T) {
	n := 0
	for range Parts(orb.Collection{orb.MultiPoint{{0, 0}, {1, 1}}, orb.MultiPolygon{{}}}) {
		if n++; n == 2 {
			break
		}
	}
	for range Parts(nil) {
		n++
	}
	if n != 2 {
		t.Errorf("%d parts", n)
	}
}

func TestPositions(t *testing.T) {
	ring := orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 0}}
	all := orb.Collection{orb.Point{}, orb.MultiPoint{{}, {}}, orb.LineString{{}, {}, {}}, orb.MultiPolygon{{ring, ring}}}
	if n := Positions(all); n != 1+2+3+8 || Positions(nil) != 0 {
		t.Errorf("%d positions, want 14", n)
	}
}

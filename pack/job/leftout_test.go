package job

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

func TestOnly(t *testing.T) {
	at := orb.Point{-105, 40}
	area := geojson.Feature{Geometry: orb.Polygon{{at, at, at, at}}, Place: "placemark 1"}
	named := func(g orb.Geometry, name string) geojson.Feature {
		return geojson.Feature{Geometry: g, Place: "placemark 2", Properties: map[string]any{"name": name}}
	}
	pin := named(at, "ticket pin")
	for _, c := range []struct {
		rest []geojson.Feature
		want string
	}{
		{nil, ""},
		{[]geojson.Feature{pin}, `a.kml: 1 point was left out: "ticket pin"`},
		{[]geojson.Feature{named(at, "")}, "a.kml: 1 point was left out: placemark 2"},
		{[]geojson.Feature{pin, named(orb.LineString{at, at}, " fence ")}, `a.kml: 1 point and 1 line were left out: "ticket pin", "fence"`},
		{[]geojson.Feature{named(orb.MultiPoint{at, at}, "corners"), {Place: "placemark 9"}}, `a.kml: 2 points and 1 feature without a place were left out: "corners", placemark 9`},
		{[]geojson.Feature{pin, pin, pin, pin, pin, pin, pin}, `a.kml: 7 points were left out: "ticket pin", "ticket pin", "ticket pin", "ticket pin", "ticket pin", and 2 more`},
	} {
		var notes []string
		kept := keepKinds[orb.Polygon, orb.MultiPolygon](append([]geojson.Feature{area}, c.rest...), "a.kml", &notes)
		if got := strings.Join(notes, "\n"); len(kept) != 1 || got != c.want {
			t.Errorf("%d kept, %q; want %q", len(kept), got, c.want)
		}
	}
	var notes []string
	if all := keepKinds[orb.Polygon, orb.MultiPolygon]([]geojson.Feature{pin}, "a.kml", &notes); len(all) != 1 || notes != nil {
		t.Errorf("%v %v", all, notes)
	}
}

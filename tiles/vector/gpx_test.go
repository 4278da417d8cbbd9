package vector

import (
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

func readGPX(body string, want Want) ([]geojson.Feature, Info, error) {
	return Read(File{Name: "a.gpx", Data: []byte(`<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">` + body + `</gpx>`)}, want)
}

// The walk of a square of about 85 m; a degree of latitude is 111,319 m on the
// sphere it is measured with, so 0.00004° are 4.5 m and 0.00005° 5.6 m.
const (
	walk      = `<trkpt lat="40" lon="-105"><time>2025-05-01T10:00:00Z</time></trkpt><trkpt lat="40" lon="-104.999"><time>2025-05-01T10:01:00Z</time></trkpt><trkpt lat="40.001" lon="-104.999"/><trkpt lat="40.001" lon="-105"/>`
	walkNear  = walk + `<trkpt lat="40.00004" lon="-105"/>`
	walkFar   = walk + `<trkpt lat="40.00005" lon="-105"/>`
	walkExact = walk + `<trkpt lat="40" lon="-105"/>`
)

func TestTracks(t *testing.T) {
	square := orb.Ring{{-105, 40}, {-104.999, 40}, {-104.999, 40.001}, {-105, 40.001}}
	with := func(more ...orb.Point) orb.Ring { return append(append(orb.Ring{}, square...), more...) }
	tests := []struct {
		name, in string
		want     Want
		out      orb.Geometry
		note     string
	}{
		{"a track as a line", `<trk><trkseg>` + walkNear + `</trkseg></trk>`, Lines, orb.LineString(with(orb.Point{-105, 40.00004})), ""},
		{"a track that ends 4 m off", `<trk><trkseg>` + walkNear + `</trkseg></trk>`, Areas, orb.Polygon{with(orb.Point{-105, 40.00004}, orb.Point{-105, 40})}, "Track 1 ended 4.5 m from where it began"},
		{"a track that closes itself", `<trk><trkseg>` + walkExact + `</trkseg></trk>`, Areas, orb.Polygon{with(orb.Point{-105, 40})}, "Track 1 comes back"},
		{"a route", `<rte><name>R</name><rtept lat="1" lon="2"/><rtept lat="3" lon="4"/></rte>`, Anything, orb.LineString{{2, 1}, {4, 3}}, ""},
		{"short segments", `<trk><trkseg/><trkseg><trkpt lat="1" lon="2"/></trkseg><trkseg>` + walk + `</trkseg></trk><trk/>`, Lines, orb.LineString(square), "2 track segments were left out: of fewer than two points"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, info, err := readGPX(test.in, test.want)
			if err != nil || len(features) != 1 || !reflect.DeepEqual(features[0].Geometry, test.out) {
				t.Fatalf("got %v, %v", features, err)
			}
			if test.note != "" {
				noted(t, info, test.note)
			}
		})
	}
}

func TestTrackProperties(t *testing.T) {
	features, _, err := readGPX(`<trk><name> Fence  line </name><cmt>c</cmt><trkseg>`+walk+`</trkseg><type>survey</type></trk>`, Lines)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]any{"name": "Fence  line", "type": "survey", "time": "2025-05-01T10:00:00Z"}
	if f := features[0]; !reflect.DeepEqual(f.Properties, want) || f.Place != `track 1 "Fence line"` {
		t.Errorf("got %#v", f)
	}
}

func TestWaypoints(t *testing.T) {
	text := `<wpt lat="1" lon="2"><name>Hub</name><sym>Flag</sym></wpt><trk><trkseg>` + walkExact + `</trkseg></trk>`
	features, _, err := readGPX(text, Anything)
	if err != nil || len(features) != 2 || features[0].Geometry != (orb.Point{2, 1}) || features[0].Properties["sym"] != "Flag" {
		t.Errorf("got %v, %v", features, err)
	}
	for _, want := range []Want{Areas, Lines} {
		features, info, err := readGPX(text, want)
		if err != nil || len(features) != 1 {
			t.Fatalf("got %v, %v", features, err)
		}
		noted(t, info, "1 waypoint was left out")
	}
	_, _, err = readGPX(`<wpt lat="1" lon="2"/>`, Areas)
	refusal(t, err, geojson.RuleEmpty, "file", "1 waypoint was left out")
}

func TestGPXRefuses(t *testing.T) {
	tests := []struct {
		name, in    string
		rule        *fault.Kind
		place, word string
	}{
		{"an open track", `<trk><name>Ditch</name><trkseg>` + walkFar + `</trkseg></trk>`, RuleClosed, `track 1 "Ditch"`, "a track is a line: use --along with a width"},
		{"an open segment", `<trk><trkseg>` + walkExact + `</trkseg><trkseg>` + walk + `</trkseg></trk>`, RuleClosed, "track 1, segment 2", "111 m from where it began"},
		{"an open route", `<rte><rtept lat="1" lon="2"/><rtept lat="3" lon="4"/></rte>`, RuleClosed, "route 1", "315 km"},
		{"there and back", `<rte><rtept lat="1" lon="2"/><rtept lat="1" lon="2.00001"/></rte>`, geojson.RuleRing, "route 1, ring 1", "3 positions"},
		{"no latitude", `<trk><trkseg><trkpt lon="2"/></trkseg></trk>`, geojson.RulePosition, "track 1, segment 1, position 1 (line 1)", "lat and lon"},
		{"impossible latitude", `<trk><trkseg><trkpt lat="91" lon="2"/><trkpt lat="91" lon="2"/></trkseg></trk>`, geojson.RuleLatitude, "track 1, position 1", "91"},
		{"a second root", `</gpx><gpx>`, RuleXML, "line 1", "second root"},
		{"extensions without end", `<trk><trkseg>` + `<trkpt lat="1" lon="2">` + nested(200) + `</trkpt></trkseg></trk>`, geojson.RuleNesting, "line 1", "100 deep"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readGPX(test.in, Areas)
			refusal(t, err, test.rule, test.place, test.word)
		})
	}
}

func nested(deep int) string {
	if deep == 0 {
		return ""
	}
	return "<extensions>" + nested(deep-1) + "</extensions>"
}

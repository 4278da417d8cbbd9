package intake

import (
	"strings"
	"testing"
)

const kml = `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>export</name>
<Folder><name>Sanitary sewer mains</name><Placemark><name>SS-12</name><ExtendedData><Data name="Material"><value>VCP</value></Data>
<Data name="Diam"><value>8 in</value></Data></ExtendedData><LineString><coordinates>-105.0465,40.0120 -105.0450,40.0121</coordinates></LineString></Placemark></Folder>
</Document></kml>`

const geo = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"DEPTH":3.5,"type":"gas"},"geometry":{"type":"Point","coordinates":[-105.0456,40.0123]}},
{"type":"Feature","properties":{"DEPTH":"4 ft","type":"gas service"},"geometry":{"type":"Point","coordinates":[-105.0455,40.0123]}},
{"type":"Feature","properties":{"type":"gas"},"geometry":null}]}`

func TestFeaturesOfEachForm(t *testing.T) {
	tests := []struct {
		name, text string
		items      []string
	}{
		{"x.kml", kml, []string{"utility=sewer (fits)", "datum= (fits)", "column.size=Diam (fits)", "quality_level= (unknown)"}},
		{"x.json", geo, []string{"utility=gas (stated)", "units.depth= (unknown)!", "datum= (fits)"}},
		{"fiber.gpx", `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>run</name><trkseg><trkpt lat="40.0120" lon="-105.0465"/><trkpt lat="40.0121" lon="-105.0450"/></trkseg></trk></gpx>`,
			[]string{"utility=communication (fits)", "datum= (fits)"}},
		{"elec.wkt", "LINESTRING (-105.0465 40.0120, -105.0450 40.0121)", []string{"utility=electric (fits)", "datum= (unknown)!"}},
		{"elec.txt", "SRID=4326;LINESTRING (-105.0465 40.0120, -105.0450 40.0121)", []string{"datum=WGS 84 (stated)"}},
		{"oil.wkt", "POINT (10 50)", []string{"utility=gas (fits)", "far= (unknown)!"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p := propose(t, test.name, test.text)
			wants(t, p, test.items...)
			if p.Problem != "" || len(p.Shapes) == 0 {
				t.Errorf("%q, %d shapes", p.Problem, len(p.Shapes))
			}
		})
	}
}

func TestFeaturesAsAnswered(t *testing.T) {
	p := propose(t, "x.kml", kml, "utility", "sewer", "column.size", "Diam")
	m, ok := p.Meta()
	if !ok || m.Columns["material"] != "Material" || m.Columns["size"] != "Diam" || m.Columns["label"] != "name" {
		t.Fatalf("%v %+v %s", ok, m, p.Problem)
	}
	if got := p.Shapes[0].Properties; got["material"] != "VCP" || got["width_m"] != 0.2032 || got["label"] != "SS-12" {
		t.Errorf("%v", got)
	}
	p = propose(t, "x.json", geo, "units.depth", "ft")
	m, ok = p.Meta()
	if !ok || m.Columns["depth"] != "DEPTH" || m.File != "overlays/x.geojson" || p.Shapes[0].Properties["depth_m"] != 1.0668 {
		t.Errorf("%v %+v %q %+v", ok, m, p.Problem, p.Unread)
	}
	if !strings.Contains(strings.Join(p.Notes, " "), "1 record has no place") {
		t.Errorf("%v", p.Notes)
	}
	p = propose(t, "x.json", geo, "units.depth", "m")
	if _, ok := p.Meta(); ok || len(p.Unread) != 1 || p.Unread[0].Where != "feature 2" || p.Problem == "" {
		t.Errorf("%v %+v %q", ok, p.Unread, p.Problem)
	}
	for _, name := range []string{"x.kml", "x.geojson", "x.shp", "x.zip", "x.exe", "x"} {
		if p := propose(t, name, "nothing of the kind"); p.Problem == "" {
			t.Errorf("%s was read", name)
		}
	}
}

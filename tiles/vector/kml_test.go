package vector

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

const squareKML = `<coordinates>0,0,5 1,0,5
	1,1 0,0</coordinates>`

func readKML(body string, want Want) ([]geojson.Feature, Info, error) {
	return Read(File{Name: "a.kml", Data: []byte(`<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2">` + body + `</kml>`)}, want)
}

func TestKMLShapes(t *testing.T) {
	ring := orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 0}}
	tests := []struct {
		name, in string
		want     Want
		out      orb.Geometry
	}{
		{"point with a height", `<Point><coordinates> -105.5,40.25,1600 </coordinates></Point>`, Areas, orb.Point{-105.5, 40.25}},
		{"line", `<LineString><coordinates>1,2 3,4</coordinates></LineString>`, Areas, orb.LineString{{1, 2}, {3, 4}}},
		{"ring as an area", `<LinearRing>` + squareKML + `</LinearRing>`, Areas, orb.Polygon{ring}},
		{"ring as a line", `<LinearRing>` + squareKML + `</LinearRing>`, Lines, orb.LineString(ring)},
		{"polygon with two holes in one element",
			`<Polygon><outerBoundaryIs><LinearRing>` + squareKML + `</LinearRing></outerBoundaryIs><innerBoundaryIs><LinearRing>` + squareKML + `</LinearRing><LinearRing>` + squareKML + `</LinearRing></innerBoundaryIs></Polygon>`,
			Areas, orb.Polygon{ring, ring, ring}},
		{"holes first", `<Polygon><innerBoundaryIs><LinearRing><coordinates>2,2 3,2 3,3 2,2</coordinates></LinearRing></innerBoundaryIs><outerBoundaryIs><LinearRing>` + squareKML + `</LinearRing></outerBoundaryIs></Polygon>`,
			Areas, orb.Polygon{ring, {{2, 2}, {3, 2}, {3, 3}, {2, 2}}}},
		{"nested and mixed", `<MultiGeometry><Point><coordinates>1,2</coordinates></Point><MultiGeometry><LinearRing>` + squareKML + `</LinearRing></MultiGeometry></MultiGeometry>`,
			Areas, orb.Collection{orb.Point{1, 2}, orb.Polygon{ring}}},
		{"points", `<MultiGeometry><Point><coordinates>1,2</coordinates></Point><Point><coordinates>3,4</coordinates></Point></MultiGeometry>`,
			Areas, orb.MultiPoint{{1, 2}, {3, 4}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, _, err := readKML(`<Document><Folder><Folder><Placemark>`+test.in+`</Placemark></Folder></Folder></Document>`, test.want)
			if err != nil || len(features) != 1 || !reflect.DeepEqual(features[0].Geometry, test.out) {
				t.Errorf("got %v, %v", features, err)
			}
		})
	}
}

func TestKMLProperties(t *testing.T) {
	features, _, err := readKML(`<Placemark id="p7"><name>Main &amp; 3rd</name><description><![CDATA[<b>x</b>]]></description><styleUrl>#red</styleUrl>
		<ExtendedData><Data name="depth"><displayName>d</displayName><value>36</value></Data><Data name="name"><value>other</value></Data>
		<SchemaData schemaUrl="#s"><SimpleData name="owner">City</SimpleData></SchemaData></ExtendedData>
		<Point><coordinates>1,2</coordinates></Point></Placemark>`, Areas)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]any{"name": "Main & 3rd", "description": "<b>x</b>", "styleUrl": "#red", "depth": "36", "ExtendedData.name": "other", "owner": "City"}
	if f := features[0]; !reflect.DeepEqual(f.Properties, want) || f.ID != "p7" || f.Place != `placemark 1 "Main & 3rd"` {
		t.Errorf("got %#v", f)
	}
}

func TestKMLRefuses(t *testing.T) {
	mark := func(in string) string { return `<Placemark><name>Dig</name>` + in + `</Placemark>` }
	tests := []struct {
		name, in    string
		rule        *fault.Kind
		place, word string
	}{
		{"a blank after the comma", mark(`<LineString><coordinates>-105, 40 -104, 40</coordinates></LineString>`), geojson.RulePosition, `placemark 1 "Dig", position 1 (coordinates from line 1)`, "cut in two"},
		{"a blank before the comma", mark(`<LineString><coordinates>-105,40 -104 ,40</coordinates></LineString>`), geojson.RulePosition, `placemark 1 "Dig", position 2 (coordinates from line 1)`, "-104"},
		{"one number", mark(`<Point><coordinates>-105</coordinates></Point>`), geojson.RulePosition, `placemark 1 "Dig", position 1 (coordinates from line 1)`, "1 number"},
		{"not a number", mark(`<Point><coordinates>nan,1</coordinates></Point>`), geojson.RulePosition, `placemark 1 "Dig", position 1 (coordinates from line 1)`, "not a number"},
		{"hexadecimal", mark(`<Point><coordinates>0x1p4,1</coordinates></Point>`), geojson.RulePosition, `placemark 1 "Dig", position 1 (coordinates from line 1)`, "not a number"},
		{"swapped", mark(`<Point><coordinates>40,-105</coordinates></Point>`), geojson.RuleLatitude, `placemark 1 "Dig"`, "swapped"},
		{"open ring", mark(`<Polygon><outerBoundaryIs><LinearRing><coordinates>0,0 1,0 1,1 0,1</coordinates></LinearRing></outerBoundaryIs></Polygon>`), geojson.RuleOpenRing, `placemark 1 "Dig", ring 1, position 4`, "closed"},
		{"a point of two", mark(`<Point><coordinates>1,2 3,4</coordinates></Point>`), geojson.RulePosition, `placemark 1 "Dig"`, "is it a line"},
		{"a hole without an outer ring", mark(`<Polygon><innerBoundaryIs><LinearRing>` + squareKML + `</LinearRing></innerBoundaryIs></Polygon>`), geojson.RuleRing, `placemark 1 "Dig"`, "0 outer rings"},
		{"two shapes", mark(`<Point><coordinates>1,2</coordinates></Point><Point><coordinates>1,2</coordinates></Point>`), geojson.RuleMember, `placemark 1 "Dig"`, "MultiGeometry"},
		{"nothing but a link", `<NetworkLink><Link><href>http://maps.example/a.kml</href></Link></NetworkLink>`, RuleLink, "file", "maps.example"},
		{"nothing but a track", mark(`<gx:Track xmlns:gx="http://www.google.com/kml/ext/2.2"><gx:coord>1 2 3</gx:coord></gx:Track>`), geojson.RuleEmpty, "file", "1 track was left out"},
		{"cut off", `<Document><Placemark>`, RuleXML, "line 1", "not XML"},
		{"an entity", `<Placemark><name>&xxe;</name></Placemark>`, RuleXML, "line 1", "not XML"},
		{"folders without end", strings.Repeat("<Folder>", 200) + strings.Repeat("</Folder>", 200), geojson.RuleNesting, "line 1", "100 deep"},
		{"shapes without end", mark(strings.Repeat("<MultiGeometry>", 200) + strings.Repeat("</MultiGeometry>", 200)), geojson.RuleNesting, "line 1", "100 deep"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readKML(test.in, Areas)
			refusal(t, err, test.rule, test.place, test.word)
		})
	}
}

func TestKMLNotes(t *testing.T) {
	_, info, err := readKML(`<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>
		<Placemark><name>only a name</name></Placemark><Placemark><Point/></Placemark>
		<NetworkLink><Link><href>http://maps.example/a.kml</href></Link></NetworkLink>
		<GroundOverlay><Icon><href>http://maps.example/a.png</href></Icon></GroundOverlay><GroundOverlay/>
		<Placemark><gx:MultiTrack xmlns:gx="x"/></Placemark><Placemark><Model/></Placemark>`, Areas)
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"1 network link was", "2 picture overlays were", "1 track was", "1 model was", "2 placemarks were", "1 empty shape was"} {
		noted(t, info, words)
	}
}

func TestKMLCharacterSets(t *testing.T) {
	text := func(set, name string) File {
		return File{Name: "a.kml", Data: fmt.Appendf(nil, `<?xml version="1.0" encoding=%q?><kml><Placemark><name>%s</name><Point><coordinates>1,2</coordinates></Point></Placemark></kml>`, set, name)}
	}
	for set, name := range map[string]string{"UTF-8": "café", "ISO-8859-1": "caf\xe9", "windows-1252": "caf\xe9", "utf8": "café"} {
		features, _, err := Read(text(set, name), Areas)
		if err != nil || features[0].Properties["name"] != "café" {
			t.Errorf("%s: %v, %v", set, features, err)
		}
	}
	_, _, err := Read(text("EBCDIC-XY", "x"), Areas)
	refusal(t, err, RuleXML, "line 1", `"EBCDIC-XY" is not known`, "UTF-8")
	_, _, err = Read(text("UTF-8", "caf\xe9"), Areas)
	refusal(t, err, RuleXML, "line 1", "UTF-8")
}

func TestKMLDocumentType(t *testing.T) {
	text := `<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]><kml><Placemark><name>&b;</name></Placemark></kml>`
	for _, name := range []string{"a.kml", "a.gpx"} {
		_, _, err := Read(File{Name: name, Data: []byte(text)}, Areas)
		refusal(t, err, RuleXML, "line 1", "document type")
	}
}

func TestKMZ(t *testing.T) {
	kml := func(n int) string {
		return fmt.Sprintf(`<kml><Placemark><Point><coordinates>%d,2</coordinates></Point></Placemark></kml>`, n)
	}
	link := func(href string) string {
		return `<kml><NetworkLink><Link><href>` + href + `</href></Link></NetworkLink></kml>`
	}
	tests := []struct {
		name  string
		pairs []string
		first float64
		notes string
	}{
		{"doc.kml before others", []string{"a.kml", kml(1), "doc.kml", kml(2), "files/x.png", "?"}, 2, "1 other KML file"},
		{"else the first", []string{"readme.txt", "", "b/c.KML", kml(3), "d.kml", kml(4)}, 3, "1 other KML file"},
		{"a link inside the archive", []string{"doc.kml", link("layers/a.kml"), "layers/a.kml", kml(5)}, 5, ""},
		{"links in a circle", []string{"doc.kml", link("a.kml"), "a.kml", strings.Replace(link("doc.kml"), "<kml>", "<kml><Placemark><Point><coordinates>6,2</coordinates></Point></Placemark>", 1)}, 6, ""},
		{"a shadow copy", []string{"__MACOSX/._doc.kml", "\x00", "doc.kml", kml(7)}, 7, ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, info, err := Read(File{Name: "a.kmz", Data: packed(t, test.pairs...)}, Areas)
			if err != nil || len(features) != 1 || features[0].Geometry != (orb.Point{test.first, 2}) || info.Format != "KMZ" {
				t.Fatalf("%v, %v, %v", features, info, err)
			}
			if test.notes != "" {
				noted(t, info, test.notes)
			} else if len(info.Notes) > 0 {
				t.Errorf("notes %q", info.Notes)
			}
		})
	}
}

func TestArchiveRefuses(t *testing.T) {
	many := make([]string, 0, 2*(MaxEntries+1))
	for i := range MaxEntries + 1 {
		many = append(many, fmt.Sprint("x", i), "")
	}
	locked := packed(t, "doc.kml", "<kml/>")
	for _, at := range []int{6, strings.Index(string(locked), "PK\x01\x02") + 8} {
		locked[at] |= 1
	}
	spoilt := packed(t, "doc.kml", strings.Repeat("<kml/>", 9))
	spoilt[40] ^= 0xff
	tests := []struct {
		name, file string
		data       []byte
		rule       *fault.Kind
		place, say string
	}{
		{"a bomb", "a.kmz", packed(t, "doc.kml", strings.Repeat(" ", MaxInflated+1)), geojson.RuleSize, `entry "doc.kml"`, "64 MiB"},
		{"a bomb in a side file", "a.zip", packed(t, "a.shp", "\x00\x00\x27\x0a", "a.prj", strings.Repeat(" ", MaxInflated)), geojson.RuleSize, `entry "a.prj"`, "64 MiB"},
		{"entries without end", "a.kmz", packed(t, many...), geojson.RuleSize, "file", "1001 entries"},
		{"a way out", "a.kmz", packed(t, "doc.kml", "<kml/>", "../../x", ""), RuleArchive, `entry "../../x"`, "leads out"},
		{"an absolute name", "a.kmz", packed(t, "/doc.kml", "<kml/>"), RuleArchive, `entry "/doc.kml"`, "leads out"},
		{"a drive", "a.zip", packed(t, `C:\a.shp`, ""), RuleArchive, `entry "C:\\a.shp"`, "leads out"},
		{"no KML", "a.kmz", packed(t, "a.txt", ""), geojson.RuleEmpty, "file", "no .kml"},
		{"no shapefile", "a.zip", packed(t, "doc.kml", "<kml/>"), RuleArchive, "file", "no shapefile"},
		{"two shapefiles", "a.zip", packed(t, "a.shp", "", "b.shp", ""), RuleArchive, "file", "a.shp, b.shp"},
		{"no shapefile inside", "a.zip", packed(t, "a.shp", "lat,lon"), RuleFormat, `entry "a.shp"`, "plain text"},
		{"locked", "a.kmz", locked, RuleArchive, `entry "doc.kml"`, "password"},
		{"spoilt", "a.kmz", spoilt, RuleArchive, `entry "doc.kml"`, "cannot be read"},
		{"cut off", "a.kmz", locked[:len(locked)-4], RuleArchive, "file", "cannot be read"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := Read(File{Name: test.file, Data: test.data}, Areas)
			refusal(t, err, test.rule, test.place, test.say)
		})
	}
}

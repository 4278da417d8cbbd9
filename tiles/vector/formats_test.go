package vector

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

func TestEndings(t *testing.T) {
	want := []string{".geojson", ".json", ".kml", ".kmz", ".gpx", ".shp", ".zip", ".gpkg", ".dxf", ".fgb", ".tab", ".mif", ".dgn", ".gml", ".wkt", ".csv", ".txt"}
	if got := Endings(); !slices.Equal(got, want) {
		t.Errorf("got %v", got)
	}
}

func TestContentMustFitEnding(t *testing.T) {
	kml := `<kml><Placemark><Point><coordinates>1,2</coordinates></Point></Placemark></kml>`
	gpx := `<gpx version="1.1"><wpt lat="1" lon="2"/></gpx>`
	tests := []struct {
		name, file, data string
		rule             *fault.Kind
		word             string // "" means that it is read
		format           string
	}{
		{"KML", "a.KML", kml, nil, "", "KML"},
		{"KML with a byte order mark", "a.kml", "\xef\xbb\xbf" + kml, nil, "", "KML"},
		{"a .kml that is a zip", "a.kml", string(packed(t, "doc.kml", kml)), nil, "", "KMZ"},
		{"GPX", "a.gpx", gpx, nil, "", "GPX"},
		{"GPX 1.0", "a.gpx", strings.Replace(gpx, "1.1", "1.0", 1), nil, "", "GPX"},
		{"WKT in a .txt", "a.txt", "  point (1 2)", nil, "", "WKT"},
		{"EWKT in a .txt", "a.txt", "SRID=4326;POINT(1 2)", nil, "", "WKT"},
		{"a table in a .txt", "a.txt", "lat\tlon\n1\t2\n", nil, "", "CSV"},
		{"a table that begins like WKT", "a.txt", "point,lat,lon\n7,1,2\n", nil, "", "CSV"},
		{"GeoJSON", "a.json", `{"type":"Point","coordinates":[1,2]}`, nil, "", "GeoJSON"},
		{"empty", "a.kml", "", geojson.RuleEmpty, "empty", ""},
		{"unknown ending", "a.doc", "x", RuleFormat, `".doc"`, ""},
		{"no ending", "kml", kml, RuleFormat, `""`, ""},
		{"JSON that is no GeoJSON", "a.json", `{"rings":[]}`, geojson.RuleType, `"type"`, ""},
		{"text under .json", "a.json", "lat,lon", geojson.RuleJSON, "not JSON", ""},
		{"XML under .json", "a.json", kml, RuleFormat, "XML", ""},
		{"XML under .kmz", "a.kmz", kml, RuleFormat, "XML", ""},
		{"a zip under .csv", "a.csv", string(packed(t, "a.csv", "lat,lon")), RuleFormat, "zip", ""},
		{"GPX under .kml", "a.kml", gpx, RuleFormat, `"gpx"`, ""},
		{"KML under .gpx", "a.gpx", kml, RuleFormat, `"kml"`, ""},
		{"GPX 2", "a.gpx", `<gpx version="2.0"/>`, RuleFormat, `"2.0"`, ""},
		{"text under .shp", "a.shp", "lat,lon", RuleFormat, "plain text", ""},
		{"bytes under .wkt", "a.wkt", "POINT\x00", RuleFormat, "neither text", ""},
		{"UTF-16", "a.csv", "\xff\xfel\x00a\x00t\x00", geojson.RuleEncoding, "UTF-16", ""},
		{"UTF-16 without a mark", "a.kml", "<\x00k\x00m\x00l\x00", geojson.RuleEncoding, "UTF-16", ""},
		{"nothing in it", "a.kml", "<kml/>", geojson.RuleEmpty, "no shape", ""},
		{"nothing in the collection", "a.json", `{"type":"FeatureCollection","features":[]}`, geojson.RuleEmpty, "no shape", ""},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, info, err := Read(File{Name: test.file, Data: []byte(test.data)}, Anything)
			if test.rule == nil {
				if err != nil || info.Format != test.format || len(features) != 1 {
					t.Errorf("%d features of %q, %v", len(features), info.Format, err)
				}
				return
			}
			var f *fault.Fault
			if !errors.As(err, &f) || f.Kind != test.rule || f.Place == "" || f.Remedy == "" || !strings.Contains(f.Error(), test.word) {
				t.Errorf("%#v; want rule %q and %q", err, test.rule, test.word)
			}
		})
	}
}

func TestTooLarge(t *testing.T) {
	_, _, err := Read(File{Name: "a.wkt", Data: make([]byte, MaxBytes+1)}, Areas)
	refusal(t, err, geojson.RuleSize, "file", "128 MiB")
}

// Side files are found whatever the case of their ending.
func TestOpen(t *testing.T) {
	dir := t.TempDir()
	for name, from := range map[string]string{"DIG.SHP": "site-4326.shp", "DIG.prj": "site-4326.prj", "dig.DBF": "site-4326.dbf"} {
		if err := os.WriteFile(filepath.Join(dir, name), sample(t, from), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f, err := Open(filepath.Join(dir, "DIG.SHP"))
	if err != nil {
		t.Fatal(err)
	}
	features, _, err := Read(f, Areas)
	if err != nil || features[0].Properties["Name"] != "Dig area" {
		t.Errorf("%v, %v", features, err)
	}
	if _, err := Open(filepath.Join(dir, "missing.kml")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error %v", err)
	}
	if _, err := Open(dir); err == nil {
		t.Error("a folder was opened")
	}
	large := filepath.Join(dir, "large.csv")
	if err := os.WriteFile(large, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(large, MaxBytes+1); err != nil {
		t.Fatal(err)
	}
	_, err = Open(large)
	refusal(t, err, geojson.RuleSize, large, "128 MiB")
}

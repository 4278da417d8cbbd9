package vector

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/geopackage"
)

func taken(t *testing.T, name string, want Want, how How) ([]geojson.Feature, Info, error) {
	t.Helper()
	f, err := Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	f.How = how
	return Read(f, want)
}

func TestLayersAreChosen(t *testing.T) {
	for _, test := range []struct {
		name    string
		how     How
		n       int
		refused string
	}{
		{"two.gpkg", How{}, 0, `2 layers: "marks", "routes"`},
		{"two.gpkg", How{Layers: []string{"Routes"}}, 2, ""},
		{"two.gpkg", How{Layers: []string{"*"}}, 5, ""},
		{"two.gpkg", How{Layers: []string{"gas"}}, 0, `no layer "gas"; there are "marks", "routes"`},
		{"two.gpkg", How{Layers: []string{"marks"}, EPSG: 6430}, 3, ""},
		{"two.gpkg", How{Layers: []string{"marks"}, EPSG: 2231}, 0, "the file says NAD83(2011) / Colorado North (ftUS), EPSG:6430"},
		{"two.gpkg", How{Layers: []string{"marks"}, Encoding: "cp437"}, 0, "says itself"},
		{"marks-2231.dxf", How{}, 0, "no coordinate system is stated"},
		{"marks-2231.dxf", How{EPSG: 2231}, 3, ""},
		{"marks-2231.dxf", How{EPSG: 2231, Layers: []string{"1"}}, 0, `there are "0"`},
		{"marks-2231.dxf", How{EPSG: 27700}, 0, "within a few meters"},
		{"marks-2231.dxf", How{EPSG: 2231, Encoding: "nothing"}, 0, `"nothing" is not known`},
		{"marks.shp", How{Layers: []string{"x"}}, 0, "no layers"},
		{"marks.shp", How{EPSG: 2231}, 0, "the file says"},
		{"marks.kmz", How{EPSG: 2231}, 0, "degrees on WGS 84 by its format"},
	} {
		features, _, err := taken(t, test.name, Anything, test.how)
		if test.refused == "" && (err != nil || len(features) != test.n) || test.refused != "" && (err == nil || !strings.Contains(err.Error(), test.refused)) {
			t.Errorf("%s %+v: %d features, %v", test.name, test.how, len(features), err)
		}
	}
}

func TestLayersAreListed(t *testing.T) {
	f, err := Open("testdata/two.gpkg")
	if err != nil {
		t.Fatal(err)
	}
	all, err := Layers(f)
	if err != nil || len(all) != 2 || all[0].Name != "marks" || strings.Join(all[0].Fields, " ") != "Name note" || !strings.Contains(all[0].System, "EPSG:6430") {
		t.Errorf("%+v %v", all, err)
	}
}

// A drawing, a GeoPackage and the source of both are the same places.
func TestDrawingIsInItsPlace(t *testing.T) {
	source, _ := readFile(t, "routes.geojson", Lines)
	features, info, err := taken(t, "routes-2231.dxf", Lines, How{EPSG: 2231})
	if err != nil || info.Datum != "NAD83" {
		t.Fatal(info, err)
	}
	if d := apart(features[0].Geometry, source[0].Geometry); !(d <= projected) {
		t.Errorf("%g degrees off", d)
	}
	areas, _, err := taken(t, "site-2231.dxf", Areas, How{EPSG: 2231})
	site, _ := readFile(t, "site.geojson", Areas)
	if err != nil || !(apart(areas[0].Geometry, site[0].Geometry) <= projected) || len(areas) != 3 {
		t.Errorf("%d areas, %v", len(areas), err)
	}
	multi := orb.MultiPolygon{areas[1].Geometry.(orb.Polygon), areas[2].Geometry.(orb.Polygon)}
	if d := apart(multi, site[1].Geometry); !(d <= projected) {
		t.Errorf("%g degrees off", d)
	}
}

// The system of another zone puts the places where it is not used, which is told.
func TestWrongSystemIsTold(t *testing.T) {
	_, info, err := taken(t, "marks-2231.dxf", Anything, How{EPSG: 2285}) // Washington North
	if err != nil {
		t.Fatal(err)
	}
	noted(t, info, "is it the coordinate system of this file?")
}

func TestOpenGeoPackageElsewhere(t *testing.T) {
	f, _ := Open("testdata/two.gpkg")
	f.Beside = with(map[string]string{".gpkg-wal": "x"})
	f.How.Layers = []string{"*"}
	_, _, err := Read(f, Anything)
	refusal(t, err, RuleSide, ".gpkg-wal", "has the GeoPackage open")
}

// A table of corners, a WKT and a shapefile without a .prj by their stated system.
func TestStatedSystem(t *testing.T) {
	corners := "part,X,Y\nA,3139693.2,1242850.1\nA,3140393.2,1242850.1\nA,3140393.2,1243550.1\n"
	wkt := "POLYGON((3139693.2 1242850.1,3140393.2 1242850.1,3140393.2 1243550.1,3139693.2 1242850.1))"
	var first orb.Geometry
	for _, f := range []File{
		{Name: "a.csv", Data: []byte(corners)}, {Name: "a.wkt", Data: []byte(wkt)}, {Name: "b.wkt", Data: []byte("SRID=2231;" + wkt)},
		{Name: "a.csv", Data: []byte(strings.NewReplacer("X", "Nord (ö)", "Y", "Y").Replace(strings.Replace(corners, "X", "E", 1)))},
	} {
		if !strings.HasPrefix(f.Name, "b") {
			f.How.EPSG = 2231
		}
		features, info, err := Read(f, Areas)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = features[0].Geometry
		}
		if d := apart(features[0].Geometry, first); d > 1e-12 || info.Datum != "NAD83" {
			t.Errorf("%s: %g degrees off on %s", f.Name, d, info.Datum)
		}
	}
	f := File{Name: "a.shp", Data: sample(t, "site-2232.shp"), How: How{EPSG: 2232}}
	features, _, err := Read(f, Areas)
	site, _ := readFile(t, "site.geojson", Areas)
	if err != nil || !(apart(features[0].Geometry, site[0].Geometry) <= projected) {
		t.Error(err)
	}
	f.How.EPSG = 0
	_, _, err = Read(f, Areas)
	var bad *fault.Fault
	if err == nil || !strings.Contains(err.Error(), "epsg = 2231") {
		t.Errorf("%v %v", bad, err)
	}
}

func TestStatedEncoding(t *testing.T) {
	for name, text := range map[string]string{"windows-1252": "caf\xe9", "utf-16le": "", "iso-8859-2": "caf\xe9", "cp437": "caf\x82", "shift_jis": "caf"} {
		data := []byte("lat,lon,note\n40,-105," + text + "\n")
		want := "café"
		switch name {
		case "utf-16le":
			data = []byte("\xff\xfel\x00a\x00t\x00,\x00l\x00o\x00n\x00,\x00n\x00o\x00t\x00e\x00\n\x004\x000\x00,\x001\x00,\x00\xe9\x00\n\x00")
			want = "é"
		case "shift_jis":
			want = "caf"
		}
		features, _, err := Read(File{Name: "a.csv", Data: data, How: How{Encoding: name}}, Anything)
		if err != nil || features[0].Properties["note"] != want {
			t.Errorf("%s: %v %v", name, features, err)
		}
	}
}

func FuzzDXF(f *testing.F) {
	f.Add([]byte("0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\nA\n70\n1\n10\n3e6\n20\n1e6\n42\n1\n10\n3000009\n20\n1e6\n10\n3000009\n20\n1000009\n0\nTEXT\n8\nA\n10\n3e6\n20\n1e6\n1\nx\n0\nENDSEC\n0\nEOF\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		holds(t, File{Name: "a.dxf", Data: data, How: How{EPSG: 2231, Layers: []string{"*"}}})
	})
}

// A layer whose number is that of a system with heights is taken by its text.
func TestLayerWithHeights(t *testing.T) {
	s, err := systemOf(geopackage.Layer{EPSG: 8714, WKT: `COMPD_CS["x",` + string(sample(t, "site-2232.prj")) + `,VERT_CS["h",VERT_DATUM["d",2005],UNIT["US survey foot",0.304800609601219]]]`}, "here")
	if err != nil || s == nil || s.Code != 2232 {
		t.Errorf("%+v %v", s, err)
	}
	if _, err := systemOf(geopackage.Layer{EPSG: 32054, WKT: "x"}, "here"); err == nil || !strings.Contains(err.Error(), "NAD27") {
		t.Error(err)
	}
}

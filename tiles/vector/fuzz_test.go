package vector

import (
	"bytes"
	"errors"
	"math"
	"testing"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

// holds checks what is true of every reading: a refusal names its place and
// what to do, and what is taken can be written as GeoJSON and read again.
func holds(t *testing.T, f File) {
	t.Helper()
	for _, want := range []Want{Areas, Lines, Anything} {
		features, info, err := Read(f, want)
		if err != nil {
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Kind == nil || bad.Place == "" || bad.Detail == "" || bad.Remedy == "" {
				t.Fatalf("a refusal without rule, place, detail or remedy: %#v", err)
			}
			continue
		}
		if len(features) == 0 || info.Format == "" {
			t.Fatalf("%d features of %q", len(features), info.Format)
		}
		var b bytes.Buffer
		if err := geojson.Write(&b, features); err != nil {
			t.Fatalf("cannot be written: %v", err)
		}
		if again, err := geojson.Read(b.Bytes()); err != nil || len(again) != len(features) {
			t.Fatalf("read again: %d features for %d, %v\n%s", len(again), len(features), err, b.Bytes())
		}
	}
}

func fuzzText(f *testing.F, name string, seeds ...string) {
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { holds(t, File{Name: name, Data: data}) })
}

func FuzzGeoJSON(f *testing.F) { fuzzText(f, "a.geojson", string(sample(f, "site.geojson"))) }

func FuzzKML(f *testing.F) {
	fuzzText(f, "a.kml", string(sample(f, "site.kml")), string(sample(f, "routes.kml")),
		`<kml><Placemark id="1"><name>a</name><LinearRing><coordinates>0,0 1,0 1,1 0,0</coordinates></LinearRing></Placemark><NetworkLink><Link><href>x</href></Link></NetworkLink></kml>`,
		`<?xml version="1.0" encoding="ISO-8859-1"?><kml><Folder><Placemark><MultiGeometry><Point><coordinates>1,2,3</coordinates></Point></MultiGeometry></Placemark></Folder></kml>`)
}

func FuzzKMZ(f *testing.F) {
	fuzzText(f, "a.kmz", string(sample(f, "marks.kmz")), string(packed(f, "a.kml", "<kml/>", "b/doc.kml", "")))
}

func FuzzGPX(f *testing.F) {
	fuzzText(f, "a.gpx", string(sample(f, "routes.gpx")), string(sample(f, "marks.gpx")),
		`<gpx version="1.0"><trk><trkseg>`+walkNear+`</trkseg></trk><rte><rtept lat="1" lon="2"/></rte></gpx>`)
}

func FuzzWKT(f *testing.F) {
	fuzzText(f, "a.wkt", "SRID=4326;POLYGON Z ((0 0 1, 1 0 1, 1 1 1, 0 0 1))", "MULTIPOLYGON(((0 0,1 0,1 1,0 0)))\nPOINT EMPTY;",
		"GEOMETRYCOLLECTION(MULTIPOINT((1 2),(3 4)),MULTILINESTRING((1 2,3 4)))", "linestring m(1 2 nan, 3e1 4 5)")
}

func FuzzCSV(f *testing.F) {
	fuzzText(f, "a.txt", string(sample(f, "marks.csv")), string(sample(f, "marks-semicolon.csv")),
		"part\tlat\tlon\nA\t40°00'44.3\"N\t-105 02 44.2\nA\t40\t-105\nA\t41\t-105\n", "id,lat,lon\n1,2,\"3\n\"\n")
}

func FuzzAngle(f *testing.F) {
	for _, s := range []string{"40.0123", `40°00'44.3"N`, "W105 2.737", "-0 30 0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, a := range []axis{latitude(), longitude()} {
			if v, detail := a.degrees(s); detail == "" && !(math.Abs(v) <= a.most) {
				t.Errorf("%q is %v", s, v)
			}
		}
	})
}

func FuzzShapefile(f *testing.F) {
	for _, name := range []string{"site-4326", "site-3857", "routes", "marks"} {
		f.Add(sample(f, name+".shp"), sample(f, name+".prj"), sample(f, name+".dbf"), []byte("UTF-8"))
	}
	f.Add(shp(18, append(u32(append(u32(nil, 18), make([]byte, 32)...), 1), make([]byte, 16)...)), []byte(wgs84PRJ), []byte(nil), []byte(nil))
	f.Fuzz(func(t *testing.T, main, prj, dbf, cpg []byte) {
		side := map[string]string{".prj": string(prj), ".cpg": string(cpg)}
		if len(dbf) > 0 {
			side[".dbf"] = string(dbf)
		}
		holds(t, File{Name: "a.shp", Data: main, Beside: with(side)})
	})
}

func FuzzZippedShapefile(f *testing.F) {
	fuzzText(f, "a.zip", string(packed(f, "a.shp", string(sample(f, "marks.shp")), "a.prj", wgs84PRJ)))
}

// FuzzDBF: a table that is taken gives every row.
func FuzzDBF(f *testing.F) {
	f.Add(sample(f, "site-4326.dbf"), "")
	f.Add([]byte(dbfTable(1, []dbfColumn{{name: "A", kind: 'D', size: 8}, {name: "B", kind: 'L', size: 1}}, " 20250314T")), "850")
	f.Fuzz(func(t *testing.T, data []byte, cpg string) {
		var b builder
		table, err := b.attributes(File{Beside: with(map[string]string{".dbf": string(data), ".cpg": cpg})})
		if err != nil {
			return
		}
		for i := range min(table.rows, 1000) {
			if _, _, err := table.row(i, "here"); err != nil {
				return
			}
		}
	})
}

// Samples cut off anywhere are refused or read, and never bring the reader down.
func TestCutOffAnywhere(t *testing.T) {
	for _, name := range []string{"site.geojson", "routes.kml", "marks.kmz", "routes.gpx", "marks.csv", "marks-semicolon.csv"} {
		data := sample(t, name)
		for i := range data {
			holds(t, File{Name: name, Data: data[:i]})
		}
	}
	side := map[string]string{".prj": string(sample(t, "site-4326.prj")), ".dbf": string(sample(t, "site-4326.dbf"))}
	data := sample(t, "site-4326.shp")
	for i := range data {
		_, _, err := Read(File{Name: "a.shp", Data: data[:i], Beside: with(side)}, Areas)
		if err == nil {
			t.Errorf("a .shp cut off after %d bytes was read", i)
		}
		holds(t, File{Name: "a.shp", Data: data[:i], Beside: with(side)})
	}
	for ending, whole := range side {
		for i := range whole {
			cut := map[string]string{".prj": side[".prj"], ".dbf": side[".dbf"]}
			cut[ending] = whole[:i]
			holds(t, File{Name: "a.shp", Data: data, Beside: with(cut)})
		}
	}
}

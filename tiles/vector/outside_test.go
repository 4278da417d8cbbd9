//go:build outside

package vector

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// Against ogr2ogr and cs2cs as they are on this machine:
// go test -tags outside ./tiles/vector

func TestConversionsByGDAL(t *testing.T) {
	source, _ := readFile(t, "site.geojson", Areas)
	for _, code := range []string{"4326", "4269", "3857", "26912", "26913", "26914", "32613", "2231", "2232", "26953", "6428", "3078"} {
		t.Run(code, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out.shp")
			c := exec.Command("ogr2ogr", "-t_srs", "EPSG:"+code, out, filepath.Join("testdata", "site.geojson"))
			if text, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			f, err := Open(out)
			if err != nil {
				t.Fatal(err)
			}
			features, _, err := Read(f, Areas)
			if err != nil {
				t.Fatal(err)
			}
			for i := range source {
				if d := apart(features[i].Geometry, source[i].Geometry); !(d <= projected) {
					t.Errorf("feature %d is %g degrees off", i+1, d)
				}
			}
		})
	}
}

// TestOutsideFormsByGDAL: what ogr2ogr writes in every form that is read comes back
// within a millimeter, with its attributes, and nothing is kept of it.
func TestOutsideFormsByGDAL(t *testing.T) {
	worst := map[string]float64{}
	for _, form := range []struct {
		file, driver, base, code string
		options                  []string
	}{
		{"a.gpkg", "GPKG", "4269", "2231", nil}, {"b.gpkg", "GPKG", "6318", "6430", []string{"-nln", `x "y"; z`}}, {"a.shp", "ESRI Shapefile", "6318", "6430", nil},
		{"b.shp", "ESRI Shapefile", "4269", "26953", nil}, {"a.fgb", "FlatGeobuf", "4269", "2231", nil}, {"b.fgb", "FlatGeobuf", "4326", "32613", nil},
		{"a.mif", "MapInfo File", "4269", "26913", nil}, {"a.tab", "MapInfo File", "4269", "26913", []string{"-lco", "BOUNDS=400000,4300000,600000,4500000"}},
		{"a.gml", "GML", "4269", "2232", nil}, {"a.gdb", "OpenFileGDB", "4269", "2231", nil}, {"a.dxf", "DXF", "4269", "2231", nil},
	} {
		for _, source := range []struct {
			name, kind string
			want       Want
		}{{"site", "MULTIPOLYGON", Areas}, {"routes", "MULTILINESTRING", Lines}, {"marks", "MULTIPOINT", Anything}} {
			t.Run(form.file+" "+source.name, func(t *testing.T) {
				dir := t.TempDir()
				out := filepath.Join(dir, form.file)
				args := append([]string{"-f", form.driver, "-s_srs", "EPSG:" + form.base, "-t_srs", "EPSG:" + form.code, out, filepath.Join("testdata", source.name+".geojson")}, form.options...)
				if form.driver == "OpenFileGDB" { // it has one kind of shape a layer
					args = append(args, "-nlt", source.kind)
				}
				if text, err := exec.Command("ogr2ogr", args...).CombinedOutput(); err != nil {
					t.Fatalf("%v: %s", err, text)
				}
				if form.driver == "OpenFileGDB" {
					var pairs []string
					names, _ := filepath.Glob(filepath.Join(out, "*"))
					for _, name := range names {
						data, err := os.ReadFile(name)
						if err != nil {
							t.Fatal(err)
						}
						pairs = append(pairs, "a.gdb/"+filepath.Base(name), string(data))
					}
					out += ".zip"
					if err := os.WriteFile(out, packed(t, pairs...), 0o600); err != nil {
						t.Fatal(err)
					}
				}
				f, err := Open(out)
				if err != nil {
					t.Fatal(err)
				}
				if form.driver == "DXF" {
					f.How.EPSG = 2231
				}
				t.Setenv("TMPDIR", t.TempDir())
				features, info, err := Read(f, source.want)
				if err != nil {
					t.Fatal(err)
				}
				if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
					t.Errorf("kept: %v", left)
				}
				all, _ := readFile(t, source.name+".geojson", source.want)
				got, want := allCorners(features), allCorners(all)
				if len(got) != len(want) {
					t.Fatalf("%d positions, want %d", len(got), len(want))
				}
				for i := range want {
					worst[form.file] = max(worst[form.file], geodesic.Distance(got[i], want[i]))
				}
				if worst[form.file] > 1e-3 {
					t.Errorf("%g m off", worst[form.file])
				}
				if form.driver != "DXF" && named(features) != named(all) {
					t.Errorf("%s, want %s; %+v", named(features), named(all), info)
				}
			})
		}
	}
	for form, off := range worst {
		t.Logf("%-8s %.3g m off at most", form, off)
	}
}

// named are the names and depths of all features in one order: a FlatGeobuf has its own.
func named(features []geojson.Feature) string {
	var names []string
	for _, f := range features {
		names = append(names, fmt.Sprint(f.Properties["Name"], f.Properties["depth_in"]))
	}
	slices.Sort(names)
	return strings.Join(names, "; ")
}

// allCorners are the positions of all features in one order, whichever way
// their rings run and begin.
func allCorners(features []geojson.Feature) (all []orb.Point) {
	for _, f := range features {
		for part := range geojson.Parts(f.Geometry) {
			switch part := part.(type) {
			case orb.Point:
				all = append(all, part)
			case orb.LineString:
				all = append(all, part...)
			case orb.Polygon:
				for _, ring := range part {
					all = append(all, ring[1:]...)
				}
			}
		}
	}
	slices.SortFunc(all, func(a, b orb.Point) int {
		return cmp.Or(cmp.Compare(math.Round(a[0]*1e7), math.Round(b[0]*1e7)), cmp.Compare(a[1], b[1]))
	})
	return all
}

func TestTransverseByPROJ(t *testing.T) {
	var points []orb.Point
	var in strings.Builder
	for east := 160_000.0; east <= 840_000; east += 40_000 {
		for north := 1000.7; north < 9_300_000; north += 333_333.3 {
			points = append(points, orb.Point{east, north})
			fmt.Fprintf(&in, "%f %f\n", east, north)
		}
	}
	c := exec.Command("cs2cs", "-f", "%.12f", "EPSG:32613", "EPSG:4326")
	c.Stdin = strings.NewReader(in.String())
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	worst, r := 0.0, bytes.NewReader(out)
	for _, p := range points {
		var lat, lon, height float64
		if _, err := fmt.Fscan(r, &lat, &lon, &height); err != nil {
			t.Fatal(err)
		}
		got, ok := geodesic.UTM(13, false).Inverse(p)
		if !ok {
			t.Fatalf("%v was refused", p)
		}
		worst = max(worst, math.Hypot((got[0]-lon)*111_320*math.Cos(lat*math.Pi/180), (got[1]-lat)*111_320))
	}
	t.Logf("%d positions, %.3g m at most", len(points), worst)
	if worst > 1e-6 {
		t.Errorf("%g m off", worst)
	}
}

// TestOutsideBadFilesForGDAL: what GDAL cannot read, or what leads elsewhere, is a
// fault with a remedy, soon, and nothing is kept.
func TestOutsideBadFilesForGDAL(t *testing.T) {
	bomb := `<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">` + func() (text string) {
		for c := 'b'; c < 'm'; c++ {
			text += fmt.Sprintf(`<!ENTITY %c "%s">`, c, strings.Repeat(fmt.Sprintf("&%c;", c-1), 10))
		}
		return text
	}() + `]><gml:FeatureCollection xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><x><name>&l;</name></x></gml:featureMember></gml:FeatureCollection>`
	dir := t.TempDir()
	fgb := filepath.Join(dir, "a.fgb")
	if text, err := exec.Command("ogr2ogr", "-f", "FlatGeobuf", fgb, filepath.Join("testdata", "routes.geojson")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	whole, err := os.ReadFile(fgb)
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range map[string]File{
		"no FlatGeobuf":   {Name: "a.fgb", Data: []byte("fgb\x03fgb\x00nothing")},
		"cut off":         {Name: "a.fgb", Data: whole[:len(whole)/2]},
		"an entity bomb":  {Name: "a.gml", Data: []byte(bomb)},
		"another driver":  {Name: "a.gml", Data: []byte(`<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`)},
		"a table alone":   {Name: "a.tab", Data: []byte("!table\n!version 300\n!charset WindowsLatin1\nDefinition Table\n  Type NATIVE\n  File \"/etc/passwd\"\n")},
		"no MIF":          {Name: "a.mif", Data: []byte("Version 300\nColumns 0\nData\nPoint 1\n")},
		"no geodatabase":  {Name: "a.zip", Data: packed(t, "x.gdb/a00000001.gdbtable", "nothing")},
		"no drawing file": {Name: "a.dgn", Data: []byte("\x08\x09\xfe\x02nothing")},
	} {
		t.Run(name, func(t *testing.T) {
			t.Setenv("TMPDIR", t.TempDir())
			features, _, err := Read(f, Anything)
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Remedy == "" || strings.Contains(bad.Error(), "groundsheet-gdal") {
				t.Errorf("%d features, %v", len(features), err)
			}
			t.Log(err)
			if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
				t.Errorf("kept: %v", left)
			}
		})
	}
}

// TestOutsideCounties takes outlines of real counties (npm us-atlas 3.0.1: US Census
// Bureau, public domain) through State Plane zones of each kind in the forms of the
// trade, and back.
func TestOutsideCounties(t *testing.T) {
	reference, err := filepath.Abs(filepath.Join("..", "..", "testdata", "reference"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, fips, base, code, file, driver string }{
		{"Boulder, two parallels", "08013", "4269", "2231", "a.gpkg", "GPKG"}, {"Coconino, international feet", "04005", "4269", "2223", "a.fgb", "FlatGeobuf"},
		{"Cook, transverse", "17031", "6318", "6455", "a.shp", "ESRI Shapefile"}, {"Juneau, oblique", "02110", "6318", "6394", "b.gpkg", "GPKG"},
		{"Honolulu", "15003", "4269", "3759", "c.gpkg", "GPKG"}, {"San Juan", "72127", "4269", "32161", "b.shp", "ESRI Shapefile"}, {"Marquette, oblique", "26103", "4269", "3078", "c.shp", "ESRI Shapefile"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			from, out := filepath.Join(dir, "county.geojson"), filepath.Join(dir, c.file)
			n := exec.Command("node", "county.mjs", c.fips, from)
			n.Dir = reference
			if text, err := n.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s; are its packages installed (npm ci in testdata/reference)?", err, text)
			}
			if text, err := exec.Command("ogr2ogr", "-f", c.driver, "-nlt", "MULTIPOLYGON", "-s_srs", "EPSG:"+c.base, "-t_srs", "EPSG:"+c.code, out, from).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			f, err := Open(out)
			if err != nil {
				t.Fatal(err)
			}
			features, info, err := Read(f, Areas)
			if err != nil {
				t.Fatal(err)
			}
			data, err := os.ReadFile(from)
			if err != nil {
				t.Fatal(err)
			}
			all, err := geojson.Read(data)
			if err != nil {
				t.Fatal(err)
			}
			got, want := allCorners(features), allCorners(all)
			if len(got) != len(want) {
				t.Fatalf("%d positions, want %d", len(got), len(want))
			}
			worst := 0.0
			for i := range want {
				worst = max(worst, geodesic.Distance(got[i], want[i]))
			}
			t.Logf("%s: %d positions, %.3g m off at most", info.System, len(want), worst)
			if worst > 1e-3 || features[0].Properties["name"] != all[0].Properties["name"] {
				t.Errorf("%v m off, %v", worst, features[0].Properties)
			}
		})
	}
}

//go:build outside

package handover

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/words/golden"
)

// The tests in this file need the programs of GDAL and PROJ, node with the packages of
// testdata/reference, and librecad.

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	c := exec.Command(name, args...)
	var errs strings.Builder
	c.Stderr = &errs
	out, err := c.Output()
	if err != nil || strings.Contains(errs.String(), "ERROR") || strings.Contains(errs.String(), "Warning") {
		t.Errorf("%s %v: %v\n%s", name, args, err, errs.String())
	}
	return string(out)
}

// ogr reads a file as GDAL does, in degrees of WGS 84, all layers.
func ogr(t *testing.T, path string, options ...string) (all []geojson.Feature) {
	t.Helper()
	for line := range strings.Lines(tool(t, "ogrinfo", "-q", path)) {
		_, name, ok := strings.Cut(strings.TrimSpace(line), ": ")
		if name, _, _ = strings.Cut(name, " ("); !ok {
			continue
		}
		if strings.HasSuffix(path, ".gpx") && (name == "routes" || strings.HasSuffix(name, "_points")) {
			continue
		}
		out := filepath.Join(t.TempDir(), "out.geojson")
		tool(t, "ogr2ogr", append(append([]string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=12"}, options...), out, path, name)...)
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		some, err := geojson.Read(data)
		if err != nil {
			t.Fatalf("%s, %s: %v", path, name, err)
		}
		all = append(all, some...)
	}
	return all
}

// near says whether two shapes have the same positions within meters, whatever ring or
// part begins where.
func near(a, b orb.Geometry, meters float64) bool {
	flat := func(g orb.Geometry) (all []orb.Point) {
		for part := range geojson.Parts(g) {
			switch g := part.(type) {
			case orb.Point:
				all = append(all, g)
			case orb.LineString:
				all = append(all, g...)
			case orb.Polygon:
				for _, ring := range g {
					all = append(all, ring...)
				}
			}
		}
		return all
	}
	p, q := flat(a), flat(b)
	if len(p) != len(q) {
		return false
	}
	for i := range p {
		if !slices.ContainsFunc(q, func(o orb.Point) bool { return geodesic.Distance(p[i], o) <= meters }) {
			return false
		}
	}
	return true
}

// same compares what GDAL read with the finds: shapes within a millimeter, and every
// field by its name in the form.
func same(t *testing.T, form string, got []geojson.Feature, want []Find, name func(Field) string, text func(string) string) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d features, want %d", form, len(got), len(want))
	}
	for _, f := range want {
		i := slices.IndexFunc(got, func(g geojson.Feature) bool { return g.Properties[name(Fields()[0])] == f.ID || g.ID == f.ID })
		if i < 0 {
			t.Errorf("%s: no %s", form, f.ID)
			continue
		}
		if f.Geometry == nil && got[i].Geometry != nil || f.Geometry != nil && !near(got[i].Geometry, f.Geometry, 1e-3) {
			t.Errorf("%s: %s lies at %v, want %v", form, f.ID, got[i].Geometry, f.Geometry)
		}
		for k, v := range f.values(Fields()) {
			field := Fields()[k]
			read := got[i].Properties[name(field)]
			if field.Name == "datum" || field.Name == "id" {
				continue // another in each form; found by it
			}
			if _, isJSON := read.(map[string]any); isJSON { // GDAL writes a text that is JSON as such
				text, _ := json.Marshal(read)
				read = string(text)
			}
			switch want := v.(type) {
			case nil:
				if read != nil && read != "" {
					t.Errorf("%s: %s %s was not stated, and is read as %v", form, f.ID, field.Name, read)
				}
			case float64:
				if n := asNumber(read); math.Abs(n-want) > 1e-12 {
					t.Errorf("%s: %s %s is %v, want %v", form, f.ID, field.Name, read, want)
				}
			case string:
				if fmt.Sprint(read) != text(want) {
					t.Errorf("%s: %s %s is %q, want %q", form, f.ID, field.Name, read, text(want))
				}
			}
		}
	}
}

func asNumber(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case json.Number:
		n, _ := v.Float64()
		return n
	case string:
		n := math.NaN()
		_, _ = fmt.Sscan(v, &n)
		return n
	}
	return math.NaN()
}

// expected are the finds of the trial book.
func expected(t *testing.T, book string) *material {
	t.Helper()
	m, err := gather(t.Context(), []string{book})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = m.close() })
	if err := m.narrow(t.Context(), Options{Units: "us"}); err != nil {
		t.Fatal(err)
	}
	return m
}

func whole(f Field) string   { return f.Name }
func asItIs(s string) string { return s }

// TestOutsideGDAL: GDAL reads every form, in degrees and on a projection, and finds the
// same places and fields.
func TestOutsideGDAL(t *testing.T) {
	book := bookOf(t, marks(t))
	m := expected(t, book)
	placed := slices.DeleteFunc(slices.Clone(m.found), func(f Find) bool { return f.Geometry == nil })
	utm, err := NewGround(32607, "")
	if err != nil {
		t.Fatal(err)
	}
	for name, g := range map[string]Ground{"degrees": {}, "UTM": utm} {
		to := filepath.Join(t.TempDir(), "handover")
		handed(t, book, to, Options{Ground: g})
		in := func(file string) string { return filepath.Join(to, file) }
		degrees := []string{}
		if !g.degrees() {
			degrees = []string{"-t_srs", "EPSG:4326"}
		}
		same(t, name+" GeoPackage", ogr(t, in("valve-12.gpkg"), degrees...), m.found, whole, asItIs)
		var shapes []geojson.Feature
		for _, kind := range []string{"points", "lines", "areas"} {
			shapes = append(shapes, ogr(t, in("valve-12-found-"+kind+".shp"), degrees...)...)
		}
		shapes = append(shapes, ogr(t, in("valve-12-found-no-place.dbf"))...)
		same(t, name+" shapefile", shapes, m.found, func(f Field) string { return f.Short }, func(s string) string { return cutTo254(plainText(s)) })
		table := ogr(t, in("valve-12-found.csv"), append(degrees, "-oo", "GEOM_POSSIBLE_NAMES=shape", "-oo", "KEEP_GEOM_COLUMNS=NO", "-oo", "EMPTY_STRING_AS_NULL=YES", "-s_srs", fmt.Sprintf("EPSG:%d", g.code()), "-t_srs", "EPSG:4326")...)
		same(t, name+" CSV", table, m.found, whole, func(s string) string { return cell(s) })
		same(t, name+" GeoJSON", ogr(t, in("valve-12-found.geojson"), "-oo", "DATE_AS_STRING=YES"), m.found, whole, asItIs)
		same(t, name+" KML", ogr(t, in("valve-12-found.kml")), m.found, whole, func(s string) string { return xmlText(s) })
		same(t, name+" KMZ", ogr(t, "/vsizip/"+in("valve-12-found.kmz")+"/doc.kml"), m.found, whole, func(s string) string { return xmlText(s) })
		checkGPX(t, ogr(t, in("valve-12-found.gpx")), placed)
		checkDrawing(t, in("valve-12-found.dxf"), placed)
	}
}

// xmlText is a text as XML can hold it.
func xmlText(s string) string {
	return strings.NewReplacer("\ufffe", "\ufffd").Replace(plainText(s))
}

// cutTo254 is a text as a shapefile has it.
func cutTo254(s string) string {
	if len(s) <= 254 {
		return strings.TrimRight(s, " ")
	}
	for end := 251; ; end-- {
		if s[end]&0xc0 != 0x80 {
			return s[:end] + "…"
		}
	}
}

func checkGPX(t *testing.T, got []geojson.Feature, want []Find) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("GPX: %d features, want %d", len(got), len(want))
	}
	for _, f := range want {
		if !slices.ContainsFunc(got, func(g geojson.Feature) bool {
			desc, _ := g.Properties["desc"].(string)
			return strings.Contains(desc, f.ID) && g.Properties["type"] == f.Utility+", "+f.Kind && nearAsLines(g.Geometry, f.Geometry)
		}) {
			t.Errorf("GPX: no %s", f.ID)
		}
	}
}

// nearAsLines compares shapes of which areas became their outlines.
func nearAsLines(a, b orb.Geometry) bool {
	if m, ok := b.(orb.MultiPolygon); ok {
		var rings orb.MultiLineString
		for _, p := range m {
			for _, ring := range p {
				rings = append(rings, orb.LineString(ring))
			}
		}
		b = rings
	}
	return near(a, b, 1e-3)
}

// checkDrawing has GDAL read a drawing in UTM zone 7N, and LibreCAD draw it.
func checkDrawing(t *testing.T, path string, want []Find) {
	t.Helper()
	got := ogr(t, path, "-s_srs", "EPSG:32607", "-t_srs", "EPSG:4326")
	for _, f := range want {
		parts := 0
		for _, g := range got {
			if g.Properties["Layer"] != f.layer() || g.Properties["Text"] != nil {
				continue
			}
			for part := range geojson.Parts(f.Geometry) {
				if nearAsLines(g.Geometry, multi(part)) || near(g.Geometry, part, 1e-3) {
					parts++
				}
			}
		}
		if parts == 0 {
			t.Errorf("DXF: no %s on %s", f.ID, f.layer())
		}
	}
	if !slices.ContainsFunc(got, func(g geojson.Feature) bool { return g.Properties["Text"] == "W 3 ft 4 in QL B" }) {
		t.Error("DXF: no text of a depth")
	}
	c := exec.Command("librecad", "dxf2pdf", path) // which writes beside it
	c.Env = append(os.Environ(), "QT_QPA_PLATFORM=offscreen", "HOME="+t.TempDir())
	out, err := c.CombinedOutput()
	if data, missing := os.ReadFile(strings.TrimSuffix(path, ".dxf") + ".pdf"); err != nil || missing != nil || !strings.HasPrefix(string(data), "%PDF") {
		t.Errorf("librecad: %v, %v\n%s", err, missing, out)
	}
}

func multi(g orb.Geometry) orb.Geometry {
	if p, ok := g.(orb.Polygon); ok {
		return orb.MultiPolygon{p}
	}
	return g
}

// TestOutsideShift has PROJ shift the places to NAD83(2011) at the same epoch.
func TestOutsideShift(t *testing.T) {
	g, err := NewGround(6428, "WGS 84 to NAD83(2011) at 2031.3")
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []orb.Point{{-104.9, 39.5}, {-105.3, 38.9}, {-103.2, 39.9}} {
		got, err := g.place(Find{Geometry: at, Values: map[string]any{}})
		if err != nil {
			t.Fatal(err)
		}
		// ITRF2014 (EPSG:9000, as WGS 84 is taken) by EPSG:8970, then the zone in US survey feet.
		pipeline := "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps=GRS80 " +
			"+step +proj=helmert +x=1.0053 +y=-1.90921 +z=-0.54157 +rx=0.02678138 +ry=-0.00042027 +rz=0.01093206 +s=0.00036891 " +
			"+dx=0.00079 +dy=-0.0006 +dz=-0.00144 +drx=6.667e-05 +dry=-0.00075744 +drz=-5.133e-05 +ds=-7.201e-05 +t_epoch=2010 +convention=coordinate_frame " +
			"+step +inv +proj=cart +ellps=GRS80 " +
			"+step +proj=lcc +lat_0=37.8333333333333 +lon_0=-105.5 +lat_1=39.75 +lat_2=38.45 +x_0=914401.8289 +y_0=304800.6096 +ellps=GRS80 " +
			"+step +proj=unitconvert +xy_in=m +xy_out=us-ft"
		shifted := exec.Command("cct", append([]string{"-d", "6"}, strings.Fields(pipeline)...)...)
		shifted.Stdin = strings.NewReader(fmt.Sprintf("%.10f %.10f 0 2031.3\n", at[0], at[1]))
		out, err := shifted.Output()
		var want orb.Point
		if _, scan := fmt.Sscan(string(out), &want[0], &want[1]); err != nil || scan != nil {
			t.Fatal(err, scan, string(out))
		}
		p := got.(orb.Point)
		if off := math.Hypot(p[0]-want[0], p[1]-want[1]) * 1200 / 3937; off > 1e-3 {
			t.Errorf("%v: %v, want %v: %.4f m off", at, p, want, off)
		}
	}
}

// TestOutsideKML holds the KML against the mapping of OGC's schema in npm ogc-schemas.
func TestOutsideKML(t *testing.T) {
	book, to := bookOf(t, marks(t)), filepath.Join(t.TempDir(), "handover")
	handed(t, book, to, Options{Forms: []Form{KML}})
	out, err := exec.Command("node", filepath.Join("..", "..", "testdata", "reference", "kml.mjs"), filepath.Join(to, "valve-12-found.kml")).CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestOutsideGeoPackage: the tables of OGC 12-128r17 are there and agree, and GDAL reads
// tiles and features of one file.
func TestOutsideGeoPackage(t *testing.T) {
	book, to := bookOf(t, marks(t)), filepath.Join(t.TempDir(), "handover")
	handed(t, book, to, Options{Forms: []Form{GeoPackage}, Tiles: true, Pack: packOf(t), WithRecords: true})
	path := filepath.Join(to, "valve-12.gpkg")
	if out := tool(t, "gdalinfo", "-checksum", path); !strings.Contains(out, "Pseudo-Mercator") || !strings.Contains(out, "Checksum=") {
		t.Error(out)
	}
	if out := tool(t, "ogrinfo", "-so", "-al", path); !strings.Contains(out, "found_points") || !strings.Contains(out, "depth_m: Real") {
		t.Error(out)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=ro"})
	defer db.Close()
	for query, want := range map[string]int{
		`SELECT count(*) FROM pragma_foreign_key_check`:                             0,
		`SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'`: 0,
		`SELECT count(*) FROM gpkg_contents c WHERE data_type = 'features' AND NOT EXISTS (SELECT 1 FROM gpkg_geometry_columns g WHERE g.table_name = c.table_name AND g.srs_id = c.srs_id)`: 0,
		`SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326)`:                                                                                                            3,
		`SELECT count(*) FROM gpkg_contents WHERE data_type = 'attributes'`:                                                                                                                  1,
		`SELECT count(*) FROM sqlite_schema WHERE name IN ('gpkg_contents','gpkg_spatial_ref_sys','gpkg_geometry_columns','gpkg_tile_matrix_set','gpkg_tile_matrix','gpkg_extensions')`:      6,
	} {
		n := -1
		if err := db.QueryRow(query).Scan(&n); err != nil || n != want {
			t.Errorf("%s: %d, %v", query, n, err)
		}
	}
}

// TestOutsideReport: what must be said is in the report, as pdftotext reads it.
func TestOutsideReport(t *testing.T) {
	book, to := bookOf(t, marks(t)), filepath.Join(t.TempDir(), "handover")
	handed(t, book, to, Options{Forms: []Form{Report}, Pack: packOf(t)})
	text := tool(t, "pdftotext", "-layout", filepath.Join(to, "valve-12-report.pdf"), "-")
	text = regexp.MustCompile(`\n\s*\n+`).ReplaceAllString(regexp.MustCompile(` {2,}`).ReplaceAllString(text, " | "), "\n")
	golden.Hold(t, "report", plain([]byte(text)))
}

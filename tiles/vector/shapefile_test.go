package vector

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"io/fs"
	"math"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/geojson"
)

const wgs84PRJ = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`

// shp makes a main file of records, each a type and content.
func shp(kind uint32, records ...[]byte) []byte {
	b := make([]byte, shpHeader)
	binary.BigEndian.PutUint32(b, fileCode)
	binary.LittleEndian.PutUint32(b[28:], shpVersion)
	binary.LittleEndian.PutUint32(b[32:], kind)
	for i, r := range records {
		b = binary.BigEndian.AppendUint32(b, uint32(i+1))
		b = binary.BigEndian.AppendUint32(b, uint32(len(r)/2))
		b = append(b, r...)
	}
	binary.BigEndian.PutUint32(b[24:], uint32(len(b)/2))
	return b
}

func u32(b []byte, values ...uint32) []byte {
	for _, v := range values {
		b = binary.LittleEndian.AppendUint32(b, v)
	}
	return b
}

func f64(b []byte, points ...orb.Point) []byte {
	for _, p := range points {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[0]))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[1]))
	}
	return b
}

func pointRecord(kind uint32, p orb.Point) []byte { return f64(u32(nil, kind), p) }

// partsRecord makes a PolyLine or Polygon record.
func partsRecord(kind uint32, parts ...[]orb.Point) []byte {
	b := append(u32(nil, kind), make([]byte, 32)...)
	n := uint32(0)
	var starts []uint32
	for _, p := range parts {
		starts = append(starts, n)
		n += uint32(len(p))
	}
	b = u32(u32(b, uint32(len(parts)), n), starts...)
	for _, p := range parts {
		b = f64(b, p...)
	}
	return b
}

func box(x, y, side float64, clockwise bool) []orb.Point {
	if clockwise {
		return []orb.Point{{x, y}, {x, y + side}, {x + side, y + side}, {x + side, y}, {x, y}}
	}
	return []orb.Point{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}
}

// with gives side files from a map.
func with(side map[string]string) func(string) ([]byte, error) {
	return func(ending string) ([]byte, error) {
		if s, ok := side[ending]; ok {
			return []byte(s), nil
		}
		return nil, fs.ErrNotExist
	}
}

func readSHP(data []byte) ([]geojson.Feature, Info, error) {
	return Read(File{Name: "a.shp", Data: data, Beside: with(map[string]string{".prj": wgs84PRJ})}, Areas)
}

func TestShapes(t *testing.T) {
	line := []orb.Point{{1, 2}, {3, 4}}
	multi := func(kind uint32, points ...orb.Point) []byte {
		return f64(u32(append(u32(nil, kind), make([]byte, 32)...), uint32(len(points))), points...)
	}
	heights := make([]byte, 64)
	tests := []struct {
		name   string
		kind   uint32
		record []byte
		out    orb.Geometry
	}{
		{"point", 1, pointRecord(1, orb.Point{1, 2}), orb.Point{1, 2}},
		{"point with height", 11, append(pointRecord(11, orb.Point{1, 2}), heights[:16]...), orb.Point{1, 2}},
		{"point with measure", 21, append(pointRecord(21, orb.Point{1, 2}), heights[:8]...), orb.Point{1, 2}},
		{"points", 8, multi(8, line...), orb.MultiPoint{{1, 2}, {3, 4}}},
		{"points with heights", 18, append(multi(18, line...), heights...), orb.MultiPoint{{1, 2}, {3, 4}}},
		{"line", 3, partsRecord(3, line), orb.LineString{{1, 2}, {3, 4}}},
		{"lines with heights", 13, append(partsRecord(13, line, line), heights...), orb.MultiLineString{{{1, 2}, {3, 4}}, {{1, 2}, {3, 4}}}},
		{"polygon", 5, partsRecord(5, box(0, 0, 4, true)), orb.Polygon{box(0, 0, 4, true)}},
		{"polygon with heights", 15, append(partsRecord(15, box(0, 0, 4, true)), heights...), orb.Polygon{box(0, 0, 4, true)}},
		{"hole before its ring", 5, partsRecord(5, box(1, 1, 1, false), box(0, 0, 4, true)), orb.Polygon{box(0, 0, 4, true), box(1, 1, 1, false)}},
		{"two rings with a hole each", 5, partsRecord(5, box(0, 0, 4, true), box(10, 0, 4, true), box(11, 1, 1, false), box(1, 1, 1, false)),
			orb.MultiPolygon{{box(0, 0, 4, true), box(1, 1, 1, false)}, {box(10, 0, 4, true), box(11, 1, 1, false)}}},
		{"an island in a hole, with a hole", 5, partsRecord(5, box(0, 0, 9, true), box(1, 1, 7, false), box(2, 2, 5, true), box(3, 3, 1, false)),
			orb.MultiPolygon{{box(0, 0, 9, true), box(1, 1, 7, false)}, {box(2, 2, 5, true), box(3, 3, 1, false)}}},
		{"a hole that touches another outer ring", 5, partsRecord(5, box(4, 4, 2, true), box(6, 4, 9, true), box(6, 4, 1, false)),
			orb.MultiPolygon{{box(4, 4, 2, true)}, {box(6, 4, 9, true), box(6, 4, 1, false)}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, _, err := readSHP(shp(test.kind, test.record))
			if err != nil || len(features) != 1 || !reflect.DeepEqual(features[0].Geometry, test.out) {
				t.Errorf("got %v, %v; want %v", features, err, test.out)
			}
		})
	}
}

func TestShapefileNotes(t *testing.T) {
	_, info, err := readSHP(shp(5, u32(nil, 0), partsRecord(5), partsRecord(5, box(0, 0, 4, false))))
	if err != nil {
		t.Fatal(err)
	}
	noted(t, info, "2 records were left out: without a shape")
	noted(t, info, "Record 3 runs the wrong way round")
	noted(t, info, "no .dbf")
}

func TestShapefileRefuses(t *testing.T) {
	claims := func(at int, value uint32) []byte {
		r := partsRecord(5, box(0, 0, 4, true))
		binary.LittleEndian.PutUint32(r[at:], value)
		return shp(5, r)
	}
	long := shp(1, pointRecord(1, orb.Point{1, 2}))
	binary.BigEndian.PutUint32(long[shpHeader+4:], 1<<30)
	version := shp(1)
	binary.LittleEndian.PutUint32(version[28:], 1001)
	flat := []orb.Point{{0, 0}, {1, 1}, {2, 2}, {0, 0}}
	tests := []struct {
		name        string
		data        []byte
		rule        *fault.Kind
		place, word string
	}{
		{"a length in the header beyond the file", shp(1, pointRecord(1, orb.Point{1, 2}))[:120], RuleRecord, "header", "cut off"},
		{"bytes after the end", append(shp(1), 0, 0), RuleRecord, "header", "cut off"},
		{"a header cut off", shp(1)[:50], RuleFormat, "header", "not the main file"},
		{"another version", version, RuleFormat, "header", "1001"},
		{"surfaces in space", shp(31), RuleRecord, "header", "multipatches"},
		{"an unknown type", shp(4), RuleRecord, "header", "type 4"},
		{"mixed types", shp(1, partsRecord(3, box(0, 0, 1, true))), RuleRecord, "record 1", "type 3"},
		{"a record beyond the file", long, RuleRecord, "record 1", "claims 2147483648 bytes"},
		{"a record without a type", shp(1, nil), RuleRecord, "record 1", "claims 0 bytes"},
		{"a point without numbers", shp(1, u32(nil, 1)), RuleRecord, "record 1", "room for 0"},
		{"a polygon without its box", shp(5, u32(nil, 5)), RuleRecord, "record 1", "shorter"},
		{"points without their box", shp(8, u32(nil, 8)), RuleRecord, "record 1", "shorter"},
		{"parts without end", claims(36, 1<<31), RuleRecord, "record 1", "no room"},
		{"positions without end", claims(40, 1<<31), RuleRecord, "record 1", "room for 5"},
		{"a first part that starts late", claims(44, 1), RuleRecord, "record 1", "first part"},
		{"positions without parts", shp(3, u32(append(u32(nil, 3), make([]byte, 32)...), 0, 2, 0, 0, 0, 0, 0, 0, 0, 0)), RuleRecord, "record 1", "without a part"},
		{"parts out of order", shp(3, f64(u32(append(u32(nil, 3), make([]byte, 32)...), 2, 3, 0, 3), orb.Point{1, 2}, orb.Point{1, 2}, orb.Point{1, 2})), RuleRecord, "record 1, part 2", "not in order"},
		{"not a number", shp(1, pointRecord(1, orb.Point{math.NaN(), 2})), geojson.RuleNumber, "record 1, position 1", "finite"},
		{"infinite", shp(3, partsRecord(3, []orb.Point{{1, 2}, {3, math.Inf(1)}})), geojson.RuleNumber, "record 1, position 2", "finite"},
		{"metres called degrees", shp(1, pointRecord(1, orb.Point{500000, 4e6})), geojson.RuleLongitude, "record 1", "meters or feet"},
		{"an open ring", shp(5, partsRecord(5, box(0, 0, 4, true)[:4])), geojson.RuleOpenRing, "record 1, ring 1, position 4", "closed"},
		{"a ring without area", shp(5, partsRecord(5, flat)), geojson.RuleRing, "record 1, part 1", "without area"},
		{"a hole outside", shp(5, partsRecord(5, box(0, 0, 4, true), box(5, 5, 1, false))), geojson.RuleRing, "record 1, part 2", "outside"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readSHP(test.data)
			refusal(t, err, test.rule, test.place, test.word)
		})
	}
}

// Holes that lie in the boxes of thousands of rings, and in none of the rings
// but the last, must not keep the machine for long.
func TestHolesWithoutEnd(t *testing.T) {
	parts := [][]orb.Point{box(-1, -1, 12, true)}
	for range 10_000 {
		parts = append(parts, []orb.Point{{0, 0}, {0, 10}, {10, 10}, {0, 0}}, box(8, 1, 0.1, false))
	}
	_, _, err := readSHP(shp(5, partsRecord(5, parts...)))
	var f *fault.Fault
	if !errors.As(err, &f) || f.Kind != geojson.RuleSize {
		t.Errorf("error %v", err)
	}
	few := parts[:1001]
	features, _, err := readSHP(shp(5, partsRecord(5, few...)))
	if err != nil {
		t.Fatal(err)
	}
	if all := features[0].Geometry.(orb.MultiPolygon); len(all) != 501 || len(all[0]) != 501 {
		t.Errorf("%d polygons, %d rings in the first", len(all), len(all[0]))
	}
}

func TestSideFiles(t *testing.T) {
	point := shp(1, pointRecord(1, orb.Point{1, 2}))
	_, _, err := Read(File{Name: "a.shp", Data: point}, Areas)
	refusal(t, err, RuleProjection, ".prj", "none beside")
	_, _, err = Read(File{Name: "a.shp", Data: point, Beside: with(nil)}, Areas)
	refusal(t, err, RuleProjection, ".prj", "none beside")
	_, _, err = Read(File{Name: "a.shp", Data: point, Beside: func(string) ([]byte, error) { return nil, errors.New("disk on fire") }}, Areas)
	refusal(t, err, RuleSide, ".prj", "disk on fire")

	zipped := packed(t, "gis/Dig.shp", string(sample(t, "site-26913.shp")), "gis/DIG.PRJ", string(sample(t, "site-26913.prj")),
		"gis/dig.dbf", string(sample(t, "site-26913.dbf")), "gis/other.prj", "?", "readme.txt", "")
	features, info, err := Read(File{Name: "a.zip", Data: zipped}, Areas)
	if err != nil || len(features) != 2 || features[0].Properties["Name"] != "Dig area" || info.Format != "shapefile" {
		t.Fatalf("%v, %v, %v", features, info, err)
	}
	noted(t, info, "converted from NAD83 / UTM zone 13N, EPSG:26913")
	noted(t, info, "up to a few meters")
	_, _, err = Read(File{Name: "a.zip", Data: packed(t, "a.shp", string(point))}, Areas)
	refusal(t, err, RuleProjection, ".prj", "none beside")
}

func TestPositionFarFromItsZone(t *testing.T) {
	side := map[string]string{".prj": string(sample(t, "site-32613.prj"))}
	_, _, err := Read(File{Name: "a.shp", Data: shp(1, pointRecord(1, orb.Point{-105, 1e7})), Beside: with(side)}, Areas)
	refusal(t, err, RuleProjection, "record 1", "far outside of WGS 84 / UTM zone 13N")
}

// table makes a dBase table of columns "name:type:width" and rows.
func dbfTable(driver byte, columns []dbfColumn, rows ...string) string {
	length := 1
	b := make([]byte, dbfHeader)
	for _, c := range columns {
		f := make([]byte, dbfField)
		copy(f, c.name)
		f[11], f[16] = c.kind, byte(c.size)
		b = append(b, f...)
		length += c.size
	}
	b = append(b, dbfEnd)
	b[0], b[29] = 3, driver
	binary.LittleEndian.PutUint32(b[4:], uint32(len(rows)))
	binary.LittleEndian.PutUint16(b[8:], uint16(len(b)))
	binary.LittleEndian.PutUint16(b[10:], uint16(length))
	for _, r := range rows {
		b = append(b, r...)
	}
	return string(b) + "\x1a"
}

func readDBF(dbf, cpg string, points int) ([]geojson.Feature, Info, error) {
	var records [][]byte
	for range points {
		records = append(records, pointRecord(1, orb.Point{1, 2}))
	}
	side := map[string]string{".prj": wgs84PRJ, ".dbf": dbf}
	if cpg != "" {
		side[".cpg"] = cpg
	}
	return Read(File{Name: "a.shp", Data: shp(1, records...), Beside: with(side)}, Areas)
}

func TestAttributeValues(t *testing.T) {
	tests := []struct {
		kind byte
		text string
		want any
	}{
		{'C', "valve   ", "valve"}, {'C', "        ", nil}, {'C', "\x00\x00\x00", nil}, {'C', " x  y ", "x  y"},
		{'N', "   36", 36.0}, {'N', "-24.50", -24.5}, {'N', "*****", nil}, {'N', "     ", nil}, {'F', " 1.5e+003", 1500.0}, {'F', "nan", nil},
		{'N', "9007199254740991", 9007199254740991.0}, {'N', "009007199254740993", json.Number("9007199254740993")},
		{'L', "T", true}, {'L', "n", false}, {'L', "?", nil}, {'L', " ", nil},
		{'D', "20250314", "2025-03-14"}, {'D', "00000000", nil}, {'D', "        ", nil}, {'D', "soon    ", "soon"},
	}
	for _, test := range tests {
		t.Run(string(test.kind)+test.text, func(t *testing.T) {
			table := dbfTable(0, []dbfColumn{{name: "V", kind: test.kind, size: len(test.text)}}, " "+test.text)
			features, _, err := readDBF(table, "", 1)
			if err != nil {
				t.Fatal(err)
			}
			if got := features[0].Properties["V"]; got != test.want {
				t.Errorf("got %#v; want %#v", got, test.want)
			}
		})
	}
}

func TestAttributeCharacterSets(t *testing.T) {
	tests := []struct {
		name, cpg string
		driver    byte
		text      string
		want      string
	}{
		{"nothing said", "", 0, "caf\xe9", "café"},
		{"UTF-8", "UTF-8\r\n", 0, "caf\xc3\xa9", "café"},
		{"UTF-8 cut off by the width", "utf8", 0, "caf\xc3", "caf\uFFFD"},
		{"driver of DOS", "", 1, "caf\x82", "café"},
		{"code page 850", "850", 0, "caf\x82", "café"},
		{"code page over driver", "ISO-8859-1", 1, "caf\xe9", "café"},
		{"Windows", "ANSI 1252", 0, "caf\xe9", "café"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			features, _, err := readDBF(dbfTable(test.driver, []dbfColumn{{name: "V", kind: 'C', size: len(test.text)}}, " "+test.text), test.cpg, 1)
			if err != nil || features[0].Properties["V"] != test.want {
				t.Errorf("%v, %v", features, err)
			}
		})
	}
	_, info, err := readDBF(dbfTable(0, []dbfColumn{{name: "V", kind: 'C', size: 1}}, " x"), "EBCDIC-XY", 1)
	if err != nil {
		t.Fatal(err)
	}
	noted(t, info, `"EBCDIC-XY"`)
}

func TestAttributeRows(t *testing.T) {
	columns := []dbfColumn{{name: "A", kind: 'C', size: 1}, {name: "A", kind: 'C', size: 1}, {name: "M", kind: 'M', size: 1}}
	features, info, err := readDBF(dbfTable(0, columns, " xy?", "*zz?"), "", 2)
	if err != nil || len(features) != 1 || !reflect.DeepEqual(features[0].Properties, map[string]any{"A": "x", "A_2": "y"}) {
		t.Fatalf("%v, %v", features, err)
	}
	noted(t, info, "1 record was left out: marked as deleted")
	noted(t, info, `The column "M" of the .dbf was left out`)
}

func TestAttributesRefuse(t *testing.T) {
	good := dbfTable(0, []dbfColumn{{name: "N", kind: 'N', size: 2}}, " 36")
	claims := func(at int, value byte) string {
		b := []byte(good)
		b[at] = value
		return string(b)
	}
	tests := []struct {
		name, dbf   string
		points      int
		place, word string
	}{
		{"too few rows", good, 2, ".dbf", "1 rows"},
		{"too many rows", dbfTable(0, []dbfColumn{{name: "N", kind: 'N', size: 2}}, " 36", " 36"), 1, ".dbf", "2 rows"},
		{"not a table", "hello", 1, ".dbf", "not a dBase"},
		{"another version", claims(0, 4), 1, ".dbf", "not a dBase"},
		{"rows without end", claims(7, 0x7f), 1, ".dbf", "claims"},
		{"a header beyond the file", claims(9, 0x7f), 1, ".dbf", "contradicts"},
		{"rows of nothing", claims(10, 0), 1, ".dbf", "contradicts"},
		{"columns wider than a row", claims(dbfHeader+16, 200), 1, ".dbf", "wider"},
		{"no number", dbfTable(0, []dbfColumn{{name: "N", kind: 'N', size: 2}}, " 3x"), 1, `record 1, column "N"`, `"3x" is not a number`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := readDBF(test.dbf, "", test.points)
			refusal(t, err, RuleAttributes, test.place, test.word)
		})
	}
}

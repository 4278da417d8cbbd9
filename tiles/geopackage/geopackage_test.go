package geopackage

import (
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/sqlite"
)

// changed is the sample of package vector after some statements.
func changed(t *testing.T, statements ...string) []byte {
	t.Helper()
	data, err := os.ReadFile("../vector/testdata/two.gpkg")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "a.gpkg")
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	db := sqlite.Open(path, sqlite.Options{})
	defer db.Close()
	// GDAL's triggers call functions that only GDAL has
	var triggers []string
	rows, err := db.Query(`SELECT name FROM sqlite_schema WHERE type = 'trigger'`)
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		triggers = append(triggers, `DROP TRIGGER "`+name+`"`)
	}
	rows.Close()
	run(t, db, append(triggers, statements...)...)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if data, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	return data
}

func run(t *testing.T, db *sql.DB, statements ...string) {
	t.Helper()
	for _, s := range statements {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

var errEnough = errors.New("enough")

// readAll reads every layer, at most 10,000 features.
func readAll(data []byte) (features []Feature, err error) {
	f, err := Open(data)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	layers, err := f.Layers()
	for i := range layers {
		if err = f.Describe(&layers[i]); err != nil {
			return features, err
		}
		err = f.Features(layers[i], func(one Feature) error {
			if features = append(features, one); len(features) == 10_000 {
				return errEnough
			}
			return nil
		})
		if err != nil {
			return features, err
		}
	}
	return features, err
}

// A layer under another name, as a hostile file would make it.
func layer(name, definition string) []string {
	return []string{
		definition,
		`INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('` + name + `', 'features', '` + name + `', 6430)`,
		`INSERT INTO gpkg_geometry_columns VALUES ('` + name + `', 'geom', 'POINT', 6430, 0, 0)`,
		`DELETE FROM gpkg_contents WHERE table_name IN ('marks', 'routes')`,
	}
}

func TestSample(t *testing.T) {
	all, err := readAll(changed(t))
	if err != nil || len(all) != 5 {
		t.Fatalf("%d features, %v", len(all), err)
	}
	if got := all[0]; got.Properties["note"] != "corner, north" || got.Shape.(orb.Point)[0] < 3e6 || got.Place != `layer "marks", feature 1` {
		t.Errorf("%+v", got)
	}
}

func TestHostileFiles(t *testing.T) {
	for name, test := range map[string]struct {
		statements []string
		want       string // "" = it is read
	}{
		"a view of the standard's own": {layer("v", `CREATE VIEW v AS SELECT fid AS id, geom, note FROM marks`), ""},
		"a view without end":           {layer("v", `CREATE VIEW v AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x, geom FROM n, marks`), "made of other queries"},
		"a view of views":              {append(layer("v9", `CREATE VIEW v0 AS SELECT geom FROM marks`), views(9)...), "views lead to more than"},
		"a view of everything":         {layer("v", `CREATE VIEW v AS SELECT a.geom FROM marks a, marks b, marks c, marks d, marks e, marks f, marks g, marks h, marks i, marks j, marks k, marks l, marks m`), errEnough.Error()},
		"a function that loads code":   {layer("v", `CREATE VIEW v AS SELECT geom, load_extension('evil') FROM marks`), "cannot be read"},
		"a virtual table":              {layer("v", `CREATE VIRTUAL TABLE v USING rtree(id, geom, x)`), "virtual table"},
		"a computed column": {[]string{`CREATE TABLE c (id INTEGER PRIMARY KEY, twice INTEGER GENERATED ALWAYS AS (2 * id) VIRTUAL, geom BLOB, note TEXT)`,
			`INSERT INTO c (geom, note) SELECT geom, note FROM marks`, `UPDATE gpkg_geometry_columns SET table_name = 'c' WHERE table_name = 'marks'`,
			`UPDATE gpkg_contents SET table_name = 'c' WHERE table_name = 'marks'`}, ""},
		"a trigger":                  {[]string{`CREATE TRIGGER bad AFTER INSERT ON marks BEGIN DELETE FROM routes; END`}, ""},
		"a name that ends the query": {layer(`x"; DROP TABLE marks; --`, `CREATE TABLE "x""; DROP TABLE marks; --" (id INTEGER PRIMARY KEY, geom BLOB)`), ""},
		"a table that is not there":  {[]string{`DROP TABLE marks`}, "does not have it"},
		"no column of shapes":        {[]string{`UPDATE gpkg_geometry_columns SET column_name = 'shape'`}, `no column "shape"`},
		"text for a shape":           {[]string{`UPDATE marks SET geom = 'GP' || char(0, 1)`}, "none of a GeoPackage"},
		"a shape cut off":            {[]string{`UPDATE marks SET geom = substr(geom, 1, 20)`}, "cut off"},
		"a foreign shape":            {[]string{`UPDATE marks SET geom = CAST(x'47500021' || substr(geom, 5) AS BLOB)`}, "of another make"},
		"no list of features":        {[]string{`DROP TABLE gpkg_geometry_columns`}, "no list of features"},
		"100,000 layers": {[]string{`INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id)
			WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n WHERE x < 100000) SELECT 'l' || x, 'features', 'l' || x, 6430 FROM n`,
			`INSERT INTO gpkg_geometry_columns SELECT table_name, 'geom', 'POINT', 6430, 0, 0 FROM gpkg_contents WHERE table_name GLOB 'l*'`}, "more than 1000 layers"},
	} {
		t.Run(name, func(t *testing.T) {
			data := changed(t, test.statements...)
			t.Setenv("TMPDIR", t.TempDir())
			features, err := readAll(data)
			if test.want == "" && (err != nil || strings.HasPrefix(name, "a view") && len(features) != 3) || test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)) {
				t.Errorf("%d features, %v", len(features), err)
			}
			if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
				t.Errorf("kept: %v", left)
			}
		})
	}
}

func views(n int) (all []string) {
	for i := 1; i <= n; i++ {
		from := string(rune('0' + i - 1))
		all = append(all, "CREATE VIEW v"+string(rune('0'+i))+" AS SELECT a.geom FROM v"+from+" a, v"+from+" b")
	}
	return all
}

// Whatever is cut off, nothing but a fault comes of it.
func TestCutOff(t *testing.T) {
	data := changed(t)
	for n := 0; n < len(data); n += 997 {
		if _, err := readAll(data[:n]); err != nil {
			var f *fault.Fault
			if !errors.As(err, &f) || f.Remedy == "" {
				t.Fatalf("%d bytes: %v", n, err)
			}
		}
	}
}

// The example of the standard's own shapes: OGC 12-128, 2.1.3, over the binary of
// OGC 06-103, with heights, measures and either order of bytes.
func TestShapes(t *testing.T) {
	for text, want := range map[string]orb.Geometry{
		"0101000000" + doubles(1, 2):                                        orb.Point{1, 2},
		"01e9030000" + doubles(1, 2, 3):                                     orb.Point{1, 2},
		"01b90b0000" + doubles(1, 2, 3, 4):                                  orb.Point{1, 2},
		"0101000080" + doubles(1, 2, 3):                                     orb.Point{1, 2},
		"00000000013ff00000000000004000000000000000":                        orb.Point{1, 2},
		"010200000002000000" + doubles(1, 2, 3, 4):                          orb.LineString{{1, 2}, {3, 4}},
		"01040000000100000001010000000000000000000000" + "0000000000000000": orb.MultiPoint{{0, 0}},
		"0107000000010000000101000000" + doubles(1, 2):                      orb.Collection{orb.Point{1, 2}},
		"0101000000" + doubles(math.NaN(), math.NaN()):                      nil,
		"010300000000000000":                                                nil,
	} {
		blob, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		one := Feature{Place: "here"}
		if err := one.shape(append([]byte("GP\x00\x01\x00\x00\x00\x00"), blob...)); err != nil || !same(one.Shape, want) {
			t.Errorf("%s: %v %v", text, one.Shape, err)
		}
	}
}

func same(a, b orb.Geometry) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	return orb.Equal(a, b)
}

func doubles(values ...float64) string {
	var b []byte
	for _, v := range values {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return hex.EncodeToString(b)
}

func FuzzShape(f *testing.F) {
	for _, text := range []string{"0101000000" + doubles(1, 2), "010200000002000000" + doubles(1, 2, 3, 4), "0107000000010000000101000000" + doubles(1, 2),
		"01060000000100000001030000000100000004000000" + doubles(0, 0, 1, 0, 1, 1, 0, 0), "01e9030000" + doubles(1, 2, 3)} {
		blob, _ := hex.DecodeString(text)
		f.Add(append([]byte("GP\x00\x01\x00\x00\x00\x00"), blob...))
		f.Add(append(append([]byte("GP\x00\x03\x00\x00\x00\x00"), make([]byte, 32)...), blob...))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		one := Feature{Place: "here"}
		if err := one.shape(data); err != nil {
			var bad *fault.Fault
			if !errors.As(err, &bad) || bad.Detail == "" || bad.Remedy == "" {
				t.Fatal(err)
			}
		}
	})
}

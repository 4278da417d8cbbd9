//go:build outside

package crs

import (
	"bytes"
	"database/sql"
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"groundsheet/tiles/sqlite"
)

var update = flag.Bool("update", false, "write systems.txt from PROJ's database")

// TestOutsideTable makes the table from the EPSG registry as PROJ's database has
// it: go test -tags outside -run OutsideTable ./tiles/crs -update
func TestOutsideTable(t *testing.T) {
	db := sqlite.Open(projDatabase(), sqlite.Options{Settings: "mode=ro"})
	defer db.Close()
	var version string
	if err := db.QueryRow(`SELECT value FROM metadata WHERE key = 'EPSG.VERSION'`).Scan(&version); err != nil {
		t.Fatal(err)
	}
	text := makeTable(t, db, version)
	if *update {
		if err := os.WriteFile("systems.txt", text, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !strings.Contains(table, version) {
		t.Skipf("the table is of another version than PROJ's %s", version)
	}
	if !bytes.Equal(text, []byte(table)) {
		t.Error("the table is not what PROJ's database gives: run with -update")
	}
}

// projDatabase is where PROJ keeps its copy of the registry.
func projDatabase() string {
	for _, p := range []string{os.Getenv("PROJ_DATA") + "/proj.db", "/opt/homebrew/share/proj/proj.db"} {
		if _, err := os.Stat(p); err == nil {
			return p
		}
	}
	return "/usr/share/proj/proj.db"
}

func makeTable(t *testing.T, db *sql.DB, version string) []byte {
	t.Helper()
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Coordinate reference systems of the EPSG Geodetic Parameter Dataset %s (IOGP, epsg.org),\n", version)
	b.WriteString("# as PROJ's database has them; made by TestOutsideTable. Angles in degrees, lengths in meters.\n")
	b.WriteString("# p NUMBER METHOD PARAMETERS…\n# s NUMBER|NAME|DATUM|PROJECTION (0: degrees)|UNIT|WEST,SOUTH,EAST,NORTH OF ITS USE\n")
	var names []string
	for _, d := range datums {
		names = append(names, "'"+d.name+"'")
	}
	list := strings.Join(names, ",")
	systems, used := projected(t, db, list)
	conversions(t, db, &b, used)
	for _, s := range append(inDegrees(t, db, list), systems...) {
		b.WriteString(s)
	}
	return b.Bytes()
}

const extentOf = ` LEFT JOIN usage u ON u.object_table_name = '%s' AND u.object_auth_name = 'EPSG' AND u.object_code = p.code
	LEFT JOIN extent x ON x.auth_name = u.extent_auth_name AND x.code = u.extent_code `

func inDegrees(t *testing.T, db *sql.DB, list string) (all []string) {
	t.Helper()
	each(t, db, `SELECT p.code, p.name, p.name, 0, 'degree', x.west_lon, x.south_lat, x.east_lon, x.north_lat FROM geodetic_crs p`+
		fmt.Sprintf(extentOf, "geodetic_crs")+`WHERE p.auth_name = 'EPSG' AND p.deprecated = 0 AND p.type LIKE 'geographic%'
		AND p.name IN (`+list+`) GROUP BY p.code ORDER BY p.code`, func(row []any) { all = append(all, system(row)) })
	return all
}

func projected(t *testing.T, db *sql.DB, list string) (all []string, used map[int64]bool) {
	t.Helper()
	used = map[int64]bool{}
	each(t, db, `SELECT p.code, p.name, g.name, c.code, min(a.uom_code), x.west_lon, x.south_lat, x.east_lon, x.north_lat FROM projected_crs p
		JOIN conversion_table c ON c.auth_name = p.conversion_auth_name AND c.code = p.conversion_code
		JOIN geodetic_crs g ON g.auth_name = p.geodetic_crs_auth_name AND g.code = p.geodetic_crs_code
		JOIN axis a ON a.coordinate_system_auth_name = p.coordinate_system_auth_name AND a.coordinate_system_code = p.coordinate_system_code`+
		fmt.Sprintf(extentOf, "projected_crs")+`WHERE p.auth_name = 'EPSG' AND p.deprecated = 0 AND c.method_auth_name = 'EPSG'
		AND c.method_code IN (1024, 9801, 9802, 9807, 9812, 9815, 9822) AND a.uom_code IN (9001, 9002, 9003)
		AND g.name IN (`+list+`) GROUP BY p.code ORDER BY p.code`, func(row []any) {
		used[row[3].(int64)] = true
		row[4] = map[int64]string{9001: "m", 9002: "ft", 9003: "us-ft"}[row[4].(int64)]
		all = append(all, system(row))
	})
	return all, used
}

func system(row []any) string {
	var box []string
	for _, v := range row[5:9] {
		f, _ := v.(float64)
		box = append(box, strconv.FormatFloat(f, 'f', -1, 64))
	}
	return fmt.Sprintf("s %v|%v|%v|%v|%v|%s\n", row[0], row[1], row[2], row[3], row[4], strings.Join(box, ","))
}

func conversions(t *testing.T, db *sql.DB, b *bytes.Buffer, used map[int64]bool) {
	t.Helper()
	query := "SELECT code, method_code"
	for i := 1; i <= mostNumbers; i++ {
		query += fmt.Sprintf(", param%d_code, param%d_value, param%d_uom_code", i, i, i)
	}
	each(t, db, query+" FROM conversion_table WHERE auth_name = 'EPSG' ORDER BY code", func(row []any) {
		if !used[row[0].(int64)] {
			return
		}
		m := method(row[1].(int64))
		var numbers []string
		for _, code := range parameterCodes[m] {
			i := slices.IndexFunc(row, func(v any) bool { return v == int64(code) })
			if i < 2 || (i-2)%3 != 0 {
				t.Fatalf("conversion %v has no parameter %d: %v", row[0], code, row)
			}
			numbers = append(numbers, strconv.FormatFloat(inBaseUnits(t, row[i+1].(float64), row[i+2].(int64)), 'g', -1, 64))
		}
		fmt.Fprintf(b, "p %v %d %s\n", row[0], m, strings.Join(numbers, " "))
	})
}

// inBaseUnits gives degrees, meters or a plain number. 9110 is sexagesimal:
// degrees, point, two digits of minutes and the seconds.
func inBaseUnits(t *testing.T, v float64, unit int64) float64 {
	t.Helper()
	switch unit {
	case 9001, 9102, 9201:
		return v
	case 9002:
		return v * 0.3048
	case 9003:
		return v * 1200 / 3937
	case 9105:
		return v * 0.9
	case 9110:
		text := strconv.FormatFloat(math.Abs(v), 'f', -1, 64)
		whole, rest, _ := strings.Cut(text, ".")
		rest += "0000"
		d, _ := strconv.ParseFloat(whole, 64)
		m, _ := strconv.ParseFloat(rest[:2], 64)
		s, _ := strconv.ParseFloat(rest[2:4]+"."+rest[4:]+"0", 64)
		return math.Copysign(d+m/60+s/3600, v)
	}
	t.Fatalf("unit %d", unit)
	return 0
}

func each(t *testing.T, db *sql.DB, query string, do func([]any)) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, _ := rows.Columns()
	for rows.Next() {
		row, to := make([]any, len(columns)), make([]any, len(columns))
		for i := range row {
			to[i] = &row[i]
		}
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		do(row)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}

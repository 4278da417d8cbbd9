package check

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/sqlite"
)

// whole campaigns flip each byte; a usual run takes every so many of them.
const wholeCampaign = "GROUNDSHEET_WHOLE_CAMPAIGN"

func step() int {
	if os.Getenv(wholeCampaign) != "" {
		return 1
	}
	return 7
}

// campaignPack is a small pack that has something in each of its tables.
func campaignPack(t *testing.T) []byte {
	t.Helper()
	h := whole(t)
	first := tiles.ID{Z: 11, X: 10, Y: 10}
	h.put(first, nil, "")
	a := about()
	a.Ticket = &pack.Ticket{Number: "T-1", ValidUntil: "2099-01-31"}
	a.Tolerance = &pack.Tolerance{EachSide: 0.6096, Rule: "24 in by a rule of the invented state"}
	a.Expected, a.ExpectedMissing = []string{"gas"}, []string{"gas"}
	box, _ := deep.Bounds()
	at := func(x, y float64) string {
		return fmt.Sprintf("[%f,%f]", box.West+x*(box.East-box.West), box.South+y*(box.North-box.South))
	}
	o, err := record.Read([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"depth":"3 ft","size":"6 in","accuracy":"2 ft"},"geometry":{"type":"LineString","coordinates":[`+
		at(.2, .2)+","+at(.7, .7)+`]}},{"type":"Feature","properties":{"depth":"41 in"},"geometry":{"type":"Point","coordinates":`+at(.4, .4)+`}}]}`),
		record.Meta{File: "water.geojson", Utility: "water", QualityLevel: "C", Recorded: "1998", Owner: "an invented owner"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(write(t, h, a, o))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// spoilt runs a statement over a copy of a pack and gives the verdict; "" where
// the file is refused.
func spoilt(t *testing.T, good []byte, statements string, args ...any) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "s.mbtiles")
	if err := os.WriteFile(path, good, 0o600); err != nil {
		t.Fatal(err)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw&_sync=0&_journal=MEMORY"})
	_, err := db.ExecContext(context.Background(), statements, args...)
	if closed := db.Close(); err != nil || closed != nil {
		t.Fatal(statements, err, closed)
	}
	r, err := Run(t.Context(), path, Options{})
	if err != nil {
		return ""
	}
	return r.Verdict
}

// tablesOf are the tables of our own packs, with what names a row.
var tablesOf = map[string]string{
	"metadata": "rowid", "tiles": "rowid", "groundsheet_document": "rowid", "groundsheet_wanted": "rowid",
	"groundsheet_overlay": "id", "groundsheet_known": "rowid",
	"groundsheet_hole": "zoom||' '||row||' '||col", "groundsheet_origin": "zoom||' '||row||' '||col",
}

// cell is one value of a pack.
type cell struct {
	table, column, key string
	value              []byte
	kind               string
}

// cells reads all values of all tables.
func cells(t *testing.T, good []byte) (all []cell) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "c.mbtiles")
	if err := os.WriteFile(path, good, 0o600); err != nil {
		t.Fatal(err)
	}
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=ro"})
	defer db.Close()
	for table, key := range tablesOf {
		for _, column := range columns(t, db, table) {
			rows, err := db.QueryContext(t.Context(), fmt.Sprintf(`SELECT %s, CAST(%s AS BLOB), typeof(%s) FROM %s WHERE %s IS NOT NULL`, key, column, column, table, column))
			if err != nil {
				t.Fatal(err)
			}
			for rows.Next() {
				c := cell{table: table, column: column}
				if err := rows.Scan(&c.key, &c.value, &c.kind); err != nil {
					t.Fatal(err)
				}
				all = append(all, c)
			}
			if err := rows.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	return all
}

func columns(t *testing.T, db *sql.DB, table string) (names []string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), `SELECT name FROM pragma_table_info(?)`, table)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	return names
}

// TestNoByteIsFree flips one bit of the bytes of every value that a pack holds,
// tiles among them, and takes no pack for fit that was changed so.
func TestNoByteIsFree(t *testing.T) {
	good := campaignPack(t)
	if v := spoilt(t, good, "SELECT 1"); v != Fit {
		t.Fatal("the pack itself is", v)
	}
	n, tried := 0, 0
	for _, c := range cells(t, good) {
		for i := range c.value {
			if n++; n%step() != 0 && len(c.value) > 8 {
				continue
			}
			tried++
			flipped := append([]byte{}, c.value...)
			flipped[i] ^= 1 << (n % 8)
			value := any(flipped)
			if c.kind == "text" || c.kind == "integer" {
				value = string(flipped)
			}
			set := fmt.Sprintf(`PRAGMA ignore_check_constraints=1; UPDATE OR REPLACE %s SET %s=CAST(? AS %s) WHERE %s=?`, c.table, c.column, c.kind, tablesOf[c.table])
			if readsAlike(c, i, flipped) {
				continue
			}
			if v := spoilt(t, good, set, value, c.key); v == Fit {
				t.Errorf("%s.%s of row %s, byte %d: %q became %q, and it is fit", c.table, c.column, c.key, i, around(c.value, i), around(flipped, i))
			}
		}
	}
	t.Logf("%d of %d bytes flipped", tried, n)
}

// readsAlike tells flips that leave what is read the same: an integer that reads
// as the same one, and the letter case of the names in the seals.
func readsAlike(c cell, i int, now []byte) bool {
	if c.kind == "integer" {
		var a, b int64 // SQLite's CAST takes 0 for what is no number
		_, _ = fmt.Sscan(string(c.value), &a)
		_, _ = fmt.Sscan(string(now), &b)
		return a == b
	}
	return strings.EqualFold(string(c.value), string(now)) && strings.HasPrefix(string(c.value), `{"parts"`)
}

func around(b []byte, i int) string { return string(b[max(0, i-12):min(len(b), i+12)]) }

// TestNoRowIsFree removes, doubles and exchanges every row of every table.
func TestNoRowIsFree(t *testing.T) {
	good := campaignPack(t)
	// Doubling needs tables without the rules that forbid it.
	loosen := func(table string) string {
		return fmt.Sprintf(`CREATE TABLE loose AS SELECT * FROM %[1]s; DROP TABLE %[1]s; ALTER TABLE loose RENAME TO %[1]s;`, table)
	}
	rows := map[string]map[string]bool{}
	for _, c := range cells(t, good) {
		if rows[c.table] == nil {
			rows[c.table] = map[string]bool{}
		}
		rows[c.table][c.key] = true
	}
	for table, keys := range rows {
		key, last := tablesOf[table], ""
		for one := range keys {
			if v := spoilt(t, good, fmt.Sprintf(`DELETE FROM %s WHERE %s=?`, table, key), one); v == Fit {
				t.Errorf("row %s of %s is gone, and it is fit", one, table)
			}
			if v := spoilt(t, good, loosen(table)+fmt.Sprintf(`INSERT INTO %[1]s SELECT * FROM %[1]s WHERE %[2]s='%[3]s'`, table, key, one)); v == Fit {
				t.Errorf("row %s of %s is there twice, and it is fit", one, table)
			}
			if last != "" {
				for _, column := range swapped(table) {
					query := fmt.Sprintf(loosen(table)+`CREATE TEMP TABLE two AS SELECT %[2]s AS k, %[3]s AS v FROM %[1]s;
						UPDATE %[1]s SET %[3]s=(SELECT v FROM two WHERE k='%[5]s') WHERE %[2]s='%[4]s';
						UPDATE %[1]s SET %[3]s=(SELECT v FROM two WHERE k='%[4]s') WHERE %[2]s='%[5]s'`, table, key, column, one, last)
					if v := spoilt(t, good, query); v == Fit {
						t.Errorf("rows %s and %s of %s have exchanged their %s, and it is fit", one, last, table, column)
					}
				}
			}
			last = one
		}
	}
}

// TestNoTileComesIn: a tile that was not packed is no part of the pack, an image
// or not, wanted or not.
func TestNoTileComesIn(t *testing.T) {
	good := campaignPack(t)
	for _, row := range []string{"(11, 3, 2037, x'00')", "(11, 3, 2037, (SELECT tile_data FROM tiles LIMIT 1))", "(11, 10, 2037, (SELECT tile_data FROM tiles LIMIT 1))"} {
		if v := spoilt(t, good, `INSERT INTO tiles VALUES `+row); v == Fit {
			t.Errorf("tile %s came in, and it is fit", row)
		}
	}
}

// swapped are the columns whose exchange between two rows changes something.
func swapped(table string) []string {
	return map[string][]string{
		"metadata": {"value"}, "tiles": {"tile_data"}, "groundsheet_document": {"body"}, "groundsheet_known": {"body"}, "groundsheet_origin": {"sha256"},
	}[table]
}

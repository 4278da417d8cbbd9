package geopackage

import (
	"cmp"
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"regexp"
	"strings"
	"time"

	"github.com/paulmach/orb"
	encoding "github.com/paulmach/orb/encoding/wkb"

	"groundsheet/tiles/sqlite"
)

//go:embed schema.sql
var schema string

// Writer writes a GeoPackage 1.3 (OGC 12-128r17), which older programs read without
// complaint, in one transaction. Equal content gives equal bytes.
type Writer struct {
	db      *sql.DB
	tx      *sql.Tx
	ctx     context.Context
	changed string
}

// Column is a field of a table.
type Column struct {
	Name   string // as in a query: letters, digits and _
	Number bool   // else text
	About  string // for people
}

// Table is features of one kind of geometry, or rows without any.
type Table struct {
	Name, Title, About string
	Shapes             string // POINT, MULTILINESTRING or MULTIPOLYGON; "" = no geometry
	System             int    // see [Writer.System]
	Columns            []Column
}

// Row is one row of a table. Values are string, float64 or nil.
type Row struct {
	Geometry orb.Geometry // nil = none
	Values   []any
}

// Create begins a file, which must not be there yet. Changed is the time that it states.
func Create(ctx context.Context, path string, changed time.Time) (*Writer, error) {
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is there already", path)
	}
	w := &Writer{ctx: ctx, changed: changed.UTC().Format("2006-01-02T15:04:05.000Z")}
	w.db = sqlite.Open(path, sqlite.Options{Settings: "mode=rwc&_journal_mode=DELETE", Pragmas: []string{"synchronous=FULL", "foreign_keys=ON"}})
	w.db.SetMaxOpenConns(1)
	var err error
	if _, err = w.db.ExecContext(ctx, `PRAGMA application_id=0x47504B47; PRAGMA user_version=10300`); err == nil {
		if w.tx, err = w.db.BeginTx(ctx, nil); err == nil {
			err = w.do(schema)
		}
	}
	if err != nil {
		return nil, errors.Join(err, w.db.Close())
	}
	return w, nil
}

// Close ends the file: whole with commit, else what is there is worth nothing.
func (w *Writer) Close(commit bool) error {
	end := w.tx.Rollback
	if commit {
		end = w.tx.Commit
	}
	return errors.Join(end(), w.db.Close())
}

func (w *Writer) do(query string, args ...any) error {
	_, err := w.tx.ExecContext(w.ctx, query, args...)
	return err
}

// System adds a coordinate system by its EPSG number; 4326 is there.
func (w *Writer) System(code int, name, wkt string) error {
	return w.do(`INSERT OR IGNORE INTO gpkg_spatial_ref_sys VALUES(?,?,'EPSG',?,?,NULL)`, name, code, code, wkt)
}

var tableName = regexp.MustCompile(`^[a-z][a-z0-9_]{0,60}$`)

// Add adds a table with its rows.
func (w *Writer) Add(t Table, rows []Row) error {
	if err := t.check(); err != nil {
		return err
	}
	columns, marks, kind := "fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", "?", "attributes"
	var system any
	if t.Shapes != "" {
		columns, marks, kind, system = columns+", geom "+t.Shapes, "?,?", "features", t.System
	}
	for _, c := range t.Columns {
		sort := "TEXT"
		if c.Number {
			sort = "DOUBLE"
		}
		columns, marks = columns+", "+c.Name+" "+sort, marks+",?"
	}
	if err := w.do(fmt.Sprintf(`CREATE TABLE %s (%s)`, t.Name, columns)); err != nil {
		return err
	}
	box, err := w.rows(t, rows, fmt.Sprintf(`INSERT INTO %s VALUES(%s)`, t.Name, marks))
	if err != nil {
		return err
	}
	if err := w.content(t, kind, box, system); err != nil || t.Shapes == "" {
		return errors.Join(err, w.columns(t))
	}
	return errors.Join(w.do(`INSERT INTO gpkg_geometry_columns VALUES(?,'geom',?,?,0,0)`, t.Name, t.Shapes, t.System), w.columns(t))
}

func (t Table) check() error {
	if !tableName.MatchString(t.Name) {
		return fmt.Errorf("%q is no name for a table", t.Name)
	}
	seen := map[string]bool{"fid": true, "geom": true}
	for _, c := range t.Columns {
		if !tableName.MatchString(c.Name) || seen[c.Name] {
			return fmt.Errorf("%q is no name of its own for a column", c.Name)
		}
		seen[c.Name] = true
	}
	return nil
}

func (w *Writer) rows(t Table, rows []Row, query string) (box orb.Bound, err error) {
	stmt, err := w.tx.PrepareContext(w.ctx, query)
	if err != nil {
		return box, err
	}
	defer stmt.Close()
	first := true
	for i, r := range rows {
		if len(r.Values) != len(t.Columns) {
			return box, fmt.Errorf("row %d has %d values for %d columns", i+1, len(r.Values), len(t.Columns))
		}
		args := []any{i + 1}
		if t.Shapes != "" {
			blob, err := shapeOf(r.Geometry, t)
			if err != nil {
				return box, fmt.Errorf("row %d: %w", i+1, err)
			}
			if args = append(args, blob); blob != nil && first {
				box, first = r.Geometry.Bound(), false
			} else if blob != nil {
				box = box.Union(r.Geometry.Bound())
			}
		}
		if _, err := stmt.ExecContext(w.ctx, append(args, r.Values...)...); err != nil {
			return box, err
		}
	}
	return box, nil
}

// shapeOf is the blob of a geometry with its envelope (clause 2.1.3); nil for none.
func shapeOf(g orb.Geometry, t Table) (any, error) {
	if g == nil {
		return nil, nil
	}
	if kind := strings.ToUpper(g.GeoJSONType()); kind != t.Shapes {
		return nil, fmt.Errorf("a %s is in a table of %s", kind, t.Shapes)
	}
	b := g.Bound()
	blob := []byte{'G', 'P', 0, 0b0000_0011} // little endian, an envelope of x and y
	blob = order.AppendUint32(blob, uint32(t.System))
	for _, v := range []float64{b.Min[0], b.Max[0], b.Min[1], b.Max[1]} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, errors.New("a shape lies nowhere")
		}
		blob = order.AppendUint64(blob, math.Float64bits(v))
	}
	shape, err := encoding.Marshal(g, order)
	return append(blob, shape...), err
}

func (w *Writer) content(t Table, kind string, b orb.Bound, system any) error {
	var box [4]any
	if b != (orb.Bound{}) {
		box = [4]any{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
	}
	return w.do(`INSERT INTO gpkg_contents VALUES(?,?,?,?,?,?,?,?,?,?)`, t.Name, kind, cmp.Or(t.Title, t.Name), t.About, w.changed, box[0], box[1], box[2], box[3], system)
}

// columns says what each column means (the schema extension, annex F.9).
func (w *Writer) columns(t Table) error {
	for _, c := range t.Columns {
		if c.About == "" {
			continue
		}
		if err := w.do(`INSERT INTO gpkg_data_columns VALUES(?,?,NULL,?,?,NULL,NULL)`, t.Name, c.Name, c.Name, c.About); err != nil {
			return err
		}
	}
	return nil
}

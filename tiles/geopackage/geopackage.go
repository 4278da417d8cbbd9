// Package geopackage reads the features of a GeoPackage (OGC 12-128r19): its layers, what
// is known of their coordinate systems, their fields and shapes. It asks for what
// the standard names and nothing else. A file from anywhere is opened read-only,
// without functions or triggers of its own, and every question to it ends by a
// limit of time. It also writes features, tables and the tiles of a base map into one
// new file.
package geopackage

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/sqlite"
)

// Rules of such files: the kinds of their faults.
var (
	RuleFile  = fault.Input("geopackage") // no GeoPackage, damaged, or one that asks too much
	RuleShape = fault.Input("shape")      // a shape that contradicts itself
)

// Limits, far beyond what an office exports (the project's own choice, no source).
const (
	mostLayers = 1_000
	mostFields = 1_000
	mostValue  = 64 << 20 // bytes of one shape or text
	patience   = time.Minute
)

const again = "export the layer again, alone"

// Layer is one table of features.
type Layer struct {
	Name   string
	Shapes string // such as "LINESTRING"; "GEOMETRY" is any
	Fields []string
	EPSG   int    // of its coordinate system; 0 = another or none
	WKT    string // its coordinate system in the file's own words; "" or "undefined" = none
	column string // of the shapes
}

// File is an opened GeoPackage.
type File struct {
	db   *sql.DB
	path string // of the copy
	ctx  context.Context
	stop context.CancelFunc
}

// Open takes the bytes of a file. They are put into a file of this user alone,
// which Close removes.
func Open(data []byte) (*File, error) {
	if !strings.HasPrefix(string(data[:min(len(data), 16)]), "SQLite format 3\x00") {
		return nil, refuse("file", "it is no SQLite file, which every GeoPackage is", "export it again")
	}
	copied, err := os.CreateTemp("", "groundsheet-*.gpkg")
	if err != nil {
		return nil, err
	}
	f := &File{path: copied.Name()}
	_, err = copied.Write(data)
	if err = errors.Join(err, copied.Close()); err != nil {
		return nil, errors.Join(err, os.Remove(f.path))
	}
	f.ctx, f.stop = context.WithTimeout(context.Background(), patience)
	f.db = sqlite.OpenUntrusted(f.path, sqlite.Untrusted{Longest: mostValue})
	f.db.SetMaxOpenConns(1)
	return f, nil
}

// Close removes the copy.
func (f *File) Close() error {
	f.stop()
	return errors.Join(f.db.Close(), os.Remove(f.path))
}

func refuse(place, detail, remedy string) error {
	return &fault.Fault{Kind: RuleFile, Place: place, Detail: detail, Remedy: remedy}
}

// sorted makes a fault of an error of the database.
func sorted(place string, err error) error {
	var known *fault.Fault
	switch {
	case err == nil, errors.As(err, &known):
		return err
	case errors.Is(err, context.DeadlineExceeded), sqlite.Sort(err) == sqlite.TooSlow, strings.Contains(err.Error(), "interrupted"):
		return refuse(place, fmt.Sprintf("reading it takes longer than %v", patience), again)
	case sqlite.Sort(err) == sqlite.TooLong:
		return refuse(place, fmt.Sprintf("a value has more than %d MiB", mostValue>>20), again)
	case sqlite.Sort(err) == sqlite.Damaged:
		return refuse(place, "the file is damaged or cut off", "copy or export it again")
	}
	return refuse(place, "it cannot be read: "+err.Error(), again)
}

// Layers lists the tables of features that the file names.
func (f *File) Layers() ([]Layer, error) {
	if err := sqlite.CheckSchema(f.ctx, f.db, "gpkg_contents", "gpkg_geometry_columns", "gpkg_spatial_ref_sys"); err != nil {
		return nil, sorted("file", err)
	}
	var named int
	if err := f.db.QueryRowContext(f.ctx, `SELECT count(*) FROM sqlite_schema WHERE name IN ('gpkg_contents', 'gpkg_geometry_columns', 'gpkg_spatial_ref_sys')`).Scan(&named); err != nil {
		return nil, sorted("file", err)
	}
	if named < 3 {
		return nil, refuse("file", "it has no list of features, which every GeoPackage with features has", "export the features as GeoPackage again")
	}
	rows, err := f.db.QueryContext(f.ctx, `SELECT c.table_name, g.column_name, g.geometry_type_name, coalesce(s.organization, ''), coalesce(s.organization_coordsys_id, 0), coalesce(s.definition, '')
		FROM gpkg_contents c JOIN gpkg_geometry_columns g ON g.table_name = c.table_name LEFT JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id
		WHERE c.data_type = 'features' ORDER BY c.table_name LIMIT ?`, mostLayers+1)
	if err != nil {
		return nil, sorted("file", err)
	}
	defer rows.Close()
	var all []Layer
	for rows.Next() {
		var l Layer
		var organization string
		var code int64
		if err := rows.Scan(&l.Name, &l.column, &l.Shapes, &organization, &code, &l.WKT); err != nil {
			return nil, sorted("file", err)
		}
		if strings.EqualFold(organization, "EPSG") && code > 0 && code < 1<<30 {
			l.EPSG = int(code)
		}
		all = append(all, l)
	}
	if err := rows.Err(); err != nil {
		return nil, sorted("file", err)
	}
	if len(all) > mostLayers {
		return nil, refuse("file", fmt.Sprintf("it has more than %d layers", mostLayers), "export the layers that are needed")
	}
	return all, nil
}

// Describe fills in the fields of a layer.
func (f *File) Describe(l *Layer) error {
	place := fmt.Sprintf("layer %.60q", l.Name)
	if err := sqlite.CheckSchema(f.ctx, f.db, l.Name); err != nil {
		return sorted(place, err)
	}
	rows, err := f.db.QueryContext(f.ctx, `SELECT name, upper(type), pk FROM pragma_table_info(?) ORDER BY cid LIMIT ?`, l.Name, mostFields+1)
	if err != nil {
		return sorted(place, err)
	}
	defer rows.Close()
	at, found := 0, false
	l.Fields = nil
	for ; rows.Next(); at++ {
		var name, kind string
		var key int
		if err := rows.Scan(&name, &kind, &key); err != nil {
			return sorted(place, err)
		}
		switch {
		case strings.EqualFold(name, l.column):
			l.column, found = name, true
		case key == 1 && kind == "INTEGER": // a number of the row, nothing of the record
		default:
			l.Fields = append(l.Fields, name)
		}
	}
	switch err := rows.Err(); {
	case err != nil:
		return sorted(place, err)
	case at == 0:
		return refuse(place, "the file names it and does not have it", "export it again")
	case at > mostFields:
		return refuse(place, fmt.Sprintf("it has more than %d fields", mostFields), "leave out fields that are not needed")
	case !found:
		return refuse(place, fmt.Sprintf("it has no column %.60q with shapes", l.column), "export it again")
	}
	return nil
}

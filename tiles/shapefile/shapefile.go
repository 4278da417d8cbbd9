// Package shapefile writes features as the files of a shapefile (ESRI Shapefile
// Technical Description, 1998) with a dBASE III table beside them, in UTF-8. One
// shapefile holds one kind of geometry; names of fields have ten bytes and texts 254
// at most, and what had to be cut is told.
package shapefile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"
)

// Kind of geometry, by its number in the format.
type Kind int32

// The kinds. Table is a table alone, of features without a place.
const (
	Table   Kind = 0
	Points  Kind = 1 // orb.Point
	Lines   Kind = 3 // orb.MultiLineString
	Areas   Kind = 5 // orb.MultiPolygon
	version      = 1000
	magic        = 9994
)

// Field is one column of the table.
type Field struct {
	Name   string // ten bytes at most, A to Z, a to z, digits and _
	Number bool   // else text
}

// Row is one feature. Values are string, float64 or nil, in the order of the fields.
type Row struct {
	Geometry orb.Geometry // of the kind; nil = null shape
	Values   []any
}

// Set is a shapefile.
type Set struct {
	Kind   Kind
	Fields []Field
	Rows   []Row
	Date   time.Time // of the table's header
}

// Cut is a text that did not fit into its field.
type Cut struct {
	Row   int // from 0
	Field string
	Bytes int // of the whole text
}

// Files are the bytes of a shapefile, by ending. A table alone has no .shp and .shx.
type Files map[string][]byte

// Write makes the files, but for the .prj, which the caller knows. The error says
// which feature the format cannot hold.
func (s Set) Write() (Files, []Cut, error) {
	table, cut, err := s.table()
	if err != nil {
		return nil, nil, err
	}
	files := Files{".dbf": table, ".cpg": []byte("UTF-8")}
	if s.Kind == Table {
		return files, cut, nil
	}
	var shapes, index bytes.Buffer
	whole := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for i, r := range s.Rows {
		content, err := s.shape(r.Geometry)
		if err != nil {
			return nil, nil, fmt.Errorf("feature %d: %w", i+1, err)
		}
		if r.Geometry != nil {
			whole = whole.Union(r.Geometry.Bound())
		}
		big(&index, int32((headerBytes+shapes.Len())/2), int32(len(content)/2))
		big(&shapes, int32(i+1), int32(len(content)/2))
		shapes.Write(content)
	}
	if whole.Min[0] > whole.Max[0] {
		whole = orb.Bound{}
	}
	files[".shp"] = append(s.header(shapes.Len(), whole), shapes.Bytes()...)
	files[".shx"] = append(s.header(index.Len(), whole), index.Bytes()...)
	return files, cut, nil
}

const headerBytes = 100

func (s Set) header(length int, b orb.Bound) []byte {
	var out bytes.Buffer
	big(&out, magic, 0, 0, 0, 0, 0, int32((headerBytes+length)/2))
	little(&out, int32(version), int32(s.Kind), b.Min[0], b.Min[1], b.Max[0], b.Max[1], 0.0, 0.0, 0.0, 0.0)
	return out.Bytes()
}

// shape is the content of one record.
func (s Set) shape(g orb.Geometry) ([]byte, error) {
	var out bytes.Buffer
	var parts [][]orb.Point
	switch g := g.(type) {
	case nil:
		little(&out, int32(Table))
		return out.Bytes(), nil
	case orb.Point:
		little(&out, int32(Points), g[0], g[1])
	case orb.MultiLineString:
		for _, line := range g {
			parts = append(parts, line)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			for i, ring := range p {
				parts = append(parts, oriented(ring, i == 0))
			}
		}
	}
	switch kind := kindOf(g); {
	case kind != s.Kind:
		return nil, fmt.Errorf("a %s is not of the shapefile's kind", g.GeoJSONType())
	case kind == Points:
		return out.Bytes(), nil
	}
	b := g.Bound()
	little(&out, int32(s.Kind), b.Min[0], b.Min[1], b.Max[0], b.Max[1], int32(len(parts)), int32(count(parts)))
	at := 0
	for _, p := range parts {
		little(&out, int32(at))
		at += len(p)
	}
	for _, p := range parts {
		for _, at := range p {
			little(&out, at[0], at[1])
		}
	}
	return out.Bytes(), nil
}

func kindOf(g orb.Geometry) Kind {
	switch g.(type) {
	case orb.Point:
		return Points
	case orb.MultiLineString:
		return Lines
	case orb.MultiPolygon:
		return Areas
	}
	return -1
}

func count(parts [][]orb.Point) (n int) {
	for _, p := range parts {
		n += len(p)
	}
	return n
}

// oriented gives a ring as the format wants it: the outer one clockwise, holes the
// other way.
func oriented(ring orb.Ring, outer bool) orb.Ring {
	if (ring.Orientation() == orb.CW) == outer {
		return ring
	}
	turned := ring.Clone()
	turned.Reverse()
	return turned
}

func big(to *bytes.Buffer, all ...int32) { _ = binary.Write(to, binary.BigEndian, all) }
func little(to *bytes.Buffer, all ...any) { // a buffer takes everything
	for _, v := range all {
		_ = binary.Write(to, binary.LittleEndian, v)
	}
}

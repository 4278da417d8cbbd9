package handover

import (
	"fmt"
	"strings"
	"time"

	"groundsheet/tiles/shapefile"
	"groundsheet/tiles/words"
)

// writeShapefiles writes a shapefile for each kind of geometry that there is, and a
// table of what has no place. Notes are the mapping of the names, and each text that
// had to be cut, in whole.
func writeShapefiles(name string, finds []Find, g Ground, date time.Time) (files map[string][]byte, notes string, err error) {
	files = map[string][]byte{}
	var note strings.Builder
	note.WriteString(words.Say("handover.shape_names") + "\n\n")
	fields := Fields()
	columns := make([]shapefile.Field, len(fields))
	for i, f := range fields {
		columns[i] = shapefile.Field{Name: f.Short, Number: f.Number}
		fmt.Fprintf(&note, "%-10s  %-18s  %s\n", f.Short, f.Name, f.About)
	}
	for _, kind := range []struct {
		shape shape
		kind  shapefile.Kind
		name  string
	}{{points, shapefile.Points, "points"}, {lines, shapefile.Lines, "lines"}, {areas, shapefile.Areas, "areas"}, {unplaced, shapefile.Table, "no-place"}} {
		some := of(kind.shape, finds)
		if len(some) == 0 {
			continue
		}
		set := shapefile.Set{Kind: kind.kind, Fields: columns, Date: date}
		for _, f := range some {
			placed, err := g.place(f)
			if err != nil {
				return nil, "", err
			}
			set.Rows = append(set.Rows, shapefile.Row{Geometry: placed, Values: plainValues(f, fields)})
		}
		written, cut, err := set.Write()
		if err != nil {
			return nil, "", fmt.Errorf("%s-%s.shp: %w", name, kind.name, err)
		}
		for ending, data := range written {
			files[name+"-"+kind.name+ending] = data
		}
		if kind.shape != unplaced {
			files[name+"-"+kind.name+".prj"] = []byte(g.wkt())
		}
		for _, c := range cut {
			whole := set.Rows[c.Row].Values[indexOf(columns, c.Field)]
			fmt.Fprintf(&note, "\n%s\n%v\n", words.Say("handover.shape_cut", "file", name+"-"+kind.name, "row", c.Row+1, "field", c.Field, "bytes", c.Bytes), whole)
		}
	}
	return files, note.String(), nil
}

func indexOf(columns []shapefile.Field, name string) int {
	for i, c := range columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

// plainValues are the values of a find without what acts on a screen.
func plainValues(f Find, fields []Field) []any {
	all := f.values(fields)
	for i, v := range all {
		if s, ok := v.(string); ok {
			all[i] = plainText(s)
		}
	}
	return all
}

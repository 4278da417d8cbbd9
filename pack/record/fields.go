package record

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"groundsheet/tiles/geojson"
)

// fieldReader gives the fields of features the meanings and units that the job
// states, where their names do not say them. Fields of a file are what columns are
// of a table.
type fieldReader struct {
	tableReader
	names map[string]string // meaning -> field
}

// newFieldReader is nil where the job states nothing.
func newFieldReader(features []geojson.Feature, m Meta) (*fieldReader, error) {
	if len(m.Columns)+len(m.Units) == 0 {
		return nil, nil
	}
	r := &fieldReader{tableReader{columns: map[string]column{}, units: map[string]lengthUnit{}, file: m.File}, maps.Clone(m.Columns)}
	if r.names == nil {
		r.names = map[string]string{}
	}
	for meaning := range m.Units {
		if r.names[meaning] == "" {
			r.names[meaning] = meaning
		}
	}
	has := fieldNames(features)
	for meaning, name := range r.names {
		switch {
		case !slices.Contains(columnMeanings(), meaning):
			return nil, fmt.Errorf("columns: %q is not something a field can mean: use %s", meaning, strings.Join(columnMeanings(), ", "))
		case !has[name]:
			return nil, fmt.Errorf("columns: no feature has a field %s for %s", Quote(name), meaning)
		case name != meaning && has[meaning]:
			return nil, fmt.Errorf("columns: %s is said to be the %s, and there is a field %s too: keep one", Quote(name), meaning, Quote(meaning))
		}
		_, unit := columnMeaning(name)
		if stated := m.Units[meaning]; stated != "" {
			unit = stated
		}
		r.columns[meaning] = column{unit: unit}
	}
	return r, r.resolveUnits()
}

// fieldNames are the names of all fields of features.
func fieldNames(features []geojson.Feature) map[string]bool {
	has := map[string]bool{}
	for _, f := range features {
		for name := range f.Properties {
			has[name] = true
		}
	}
	return has
}

// read gives the properties of a feature under the names of their meanings.
func (r *fieldReader) read(p map[string]any) (map[string]any, error) {
	if r == nil {
		return p, nil
	}
	out := maps.Clone(p)
	var faults []string
	for _, meaning := range columnMeanings() {
		name, stated := r.names[meaning]
		text := Text(p, name)
		if !stated || text == "" {
			continue
		}
		delete(out, name)
		if err := r.value(out, meaning, text, r.columns[meaning]); err != nil {
			faults = append(faults, name+": "+err.Error())
		}
	}
	if len(faults) > 0 {
		return nil, fmt.Errorf("%s", strings.Join(faults, "; "))
	}
	return out, nil
}

// Unread are the features of a file that cannot be read as a record, each with
// its place and reason. The error is one of the whole file.
func Unread(features []geojson.Feature, m Meta) ([]Finding, error) {
	_, unread, err := prepare(features, m)
	return unread, err
}

// prepare [normalize]s the properties of features. What cannot be read is left as
// it is and named.
func prepare(features []geojson.Feature, m Meta) (out []geojson.Feature, unread []Finding, err error) {
	fields, err := newFieldReader(features, m)
	if err != nil {
		return nil, nil, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	out = slices.Clone(features)
	for i, f := range features {
		if f.Geometry == nil {
			continue
		}
		p, err := fields.read(f.Properties)
		if err == nil {
			p, err = normalize(p)
		}
		if err != nil {
			unread = append(unread, Finding{"feature", Fault, f.Place, 0, err.Error()})
			continue
		}
		out[i].Properties = p
	}
	return out, unread, nil
}

// ReadFields gives values under the meanings that their names have: columns says which
// name means what ("depth" -> "D1"), units in which unit it is ("depth" -> "ft"), both as
// in [Meta]. A value that is missing is not read. Lengths come as depth_m and
// accuracy_m in meters, a frequency as frequency_hz, a current as current_ma.
func ReadFields(values map[string]any, columns, units map[string]string) (map[string]any, error) {
	m := Meta{TableFormat: TableFormat{Columns: map[string]string{}, Units: map[string]string{}}}
	for meaning, name := range columns {
		if Text(values, name) != "" {
			m.Columns[meaning], m.Units[meaning] = name, units[meaning]
		}
	}
	r, err := newFieldReader([]geojson.Feature{{Properties: values}}, m)
	if err != nil {
		return nil, err
	}
	return r.read(values)
}

// Package intake takes in a file of records that was handed over: it reads one whose
// columns, units and datum are stated ([Read]), and proposes them for one of which
// little or nothing is stated yet (Propose). What it proposes goes through the
// same reader, so that nothing is shown that the job would read in another way.
package intake

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// Read makes an overlay of a file, as its meta states that it is to be read. Errors
// name the file; notes are sentences for the user: what was left out of the file or
// assumed.
func Read(f vector.File, m record.Meta, id string) (o record.Overlay, notes []string, err error) {
	f.How = vector.How(m.Form)
	if err := vector.CheckHow(f); err != nil {
		return o, nil, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	switch ending(m.File) {
	case ".geojson": // it may be empty, or have records without a place
		if m.Datum == "" && m.Shift == nil {
			m.Datum = byFormat("WGS 84") // RFC 7946, section 4
		}
		o, err = record.Read(f.Data, m, id)
		return o, nil, err
	case ".csv":
		return readTable(f, m, id)
	}
	features, info, err := vector.Read(f, vector.Anything)
	for _, n := range info.Notes {
		notes = append(notes, m.File+": "+n)
	}
	system := ""
	if info.System != "" {
		system = info.Datum
	}
	told := contradicted(m, system)
	if err == nil {
		m.Datum, err = datumOf(m, info)
	}
	if err != nil {
		return record.Overlay{}, notes, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	o, err = record.New(features, m, id)
	o.Findings = append(o.Findings, told...)
	return o, notes, err
}

// contradicted warns of a datum of the job that is not that of the coordinate system.
// The system's NAD83 may be any of its realizations.
func contradicted(m record.Meta, system string) []record.Finding {
	plain := strings.NewReplacer(" ", "", "-", "", "_", "", "NAD1983", "NAD83")
	job, own := plain.Replace(strings.ToUpper(m.Datum)), plain.Replace(strings.ToUpper(system))
	if job == "" || own == "" || strings.HasPrefix(job, own) {
		return nil
	}
	return []record.Finding{record.NewFinding("datum", record.Warning, m.File, 0, words.Say("datum.contradicted", "job", m.Datum, "system", system))}
}

func ending(name string) string { return strings.ToLower(filepath.Ext(name)) }

// datumOf is the datum that the job states, else the file. A shift must fit
// what either states; a datum that a format merely implies is no word of the
// record.
func datumOf(m record.Meta, info vector.Info) (string, error) {
	stated, implied := info.Datum, ""
	if impliesDatum(info) {
		stated, implied = "", byFormat(info.Datum)
	}
	if m.Shift != nil {
		return cmp.Or(m.Datum, stated), m.Shift.Fits(stated)
	}
	return cmp.Or(m.Datum, stated, implied), nil
}

// impliesDatum reports whether the datum is that of the format, no word of the file.
func impliesDatum(info vector.Info) bool {
	return slices.Contains([]string{"GeoJSON", "KML", "KMZ", "GPX"}, info.Format)
}

// byFormat tells a datum that a format implies apart from one that a record
// states: numbers that were converted without a shift stand under it too.
func byFormat(datum string) string { return words.Say("datum.by_format", "datum", datum) }

// readTable reads a table of readings: package vector finds the places,
// package record what the other columns mean.
func readTable(f vector.File, m record.Meta, id string) (o record.Overlay, notes []string, err error) {
	unit, err := m.TableFormat.CoordinateUnit()
	if err != nil {
		return o, nil, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	how, at := m.TableFormat.Places()
	s, err := vector.OpenSheet(f)
	if m.NoHeader {
		s = s.WithoutHeader()
	}
	if err == nil {
		s, err = s.Locate(positions(how, at, unit))
	}
	if err != nil {
		return o, nil, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	told := contradicted(m, s.Datum)
	m.Datum = cmp.Or(m.Datum, s.Datum)
	t := record.Table{Header: s.Header, PlaceColumns: s.Used, Notes: s.Notes}
	for _, r := range s.Rows {
		t.Rows = append(t.Rows, record.TableRow{Line: r.Line, Cells: r.Cells, Point: r.Point, Fault: r.Fault,
			Decimals: r.Decimals})
	}
	o, err = record.FromTable(t, m, id, how)
	o.Findings = append(o.Findings, told...)
	for _, f := range o.Findings {
		notes = append(notes, f.Text())
	}
	return o, notes, err
}

// positions say which columns hold the place.
func positions(how record.TableFormat, at map[string]string, unit float64) vector.Positions {
	return vector.Positions{
		Latitude: at["latitude"], Longitude: at["longitude"], Easting: at["easting"], Northing: at["northing"],
		Zone: at["zone"], UTM: how.UTMZone, Unit: unit, Comma: how.Decimal == ",",
	}
}

package vector

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/tiles/crs"
	"groundsheet/tiles/geojson"
)

// Positions says which columns of a table hold the place. Empty fields mean
// that columns are recognized by their names.
type Positions struct {
	Latitude, Longitude     string  // names of columns
	Easting, Northing, Zone string  // names of columns, UTM
	UTM                     string  // the zone of all rows, such as "13N"
	Unit                    float64 // meters in the unit of easting and northing; 0 = not stated
	Comma                   bool    // numbers have a decimal comma
}

// Sheet is a table; with [Sheet.Locate] it has a place in every row that gives one.
type Sheet struct {
	Header  []string
	Rows    []Row
	Used    []int    // the columns of the place
	Datum   string   // of the stated system; "" = none is stated
	Notes   []string // plain sentences for the user
	Divider rune     // between cells
	first   int      // line of the header
	epsg    int      // the stated system; 0 = none
}

// IsTable reports whether a file is read as a table, by its ending and, where that
// says little, by what is in it.
func IsTable(f File) bool {
	switch strings.ToLower(filepath.Ext(f.Name)) {
	case ".csv", ".tsv":
		return true
	case ".txt":
		return !looksLikeWKT(f.Data)
	}
	return false
}

// OpenSheet reads the cells of a CSV, and no place yet.
func OpenSheet(f File) (Sheet, error) {
	f = f.fromUTF16()
	switch {
	case len(f.Data) > MaxBytes:
		return Sheet{}, refuse(geojson.RuleSize, "file", sizes("the file has %d MiB; %d is the most", len(f.Data), MaxBytes),
			"split the file")
	case sniff(f.Data) != isText:
		return Sheet{}, refuse(RuleFormat, "file", "the content is "+string(sniff(f.Data)), "export the table as CSV")
	}
	t, err := openTable(f)
	if err != nil {
		return Sheet{}, err
	}
	if t.blank > 0 {
		t.notes = append(t.notes, were(t.blank, "blank row")+" left out.")
	}
	return Sheet{Header: t.header, Rows: t.rows, Notes: t.notes, Divider: t.divider, first: t.first, epsg: f.How.EPSG}, nil
}

// WithoutHeader is a table whose first line is a row: its columns are named
// "column 1", "column 2" and so on.
func (s Sheet) WithoutHeader() Sheet {
	s.Rows = append([]Row{{Line: s.first, Cells: s.Header, Decimals: -1}}, s.Rows...)
	names := make([]string, len(s.Header))
	for i := range names {
		names[i] = fmt.Sprintf("column %d", i+1)
	}
	s.Header = names
	return s
}

// Locate finds the place of each row. A row without one is marked, not dropped; a
// table without columns for the place is a [*fault.Fault].
//
// UTM is taken on the ellipsoid of WGS 84, which NAD83 shares within 0.1 mm.
func (s Sheet) Locate(p Positions) (Sheet, error) {
	t := &table{header: s.Header, rows: slices.Clone(s.Rows)}
	place, datum, err := p.place(t, s.epsg)
	if err != nil {
		return Sheet{}, err
	}
	find := place.find
	if p.Comma {
		find = func(r *Row) { withPoints(r, place) }
	}
	t.locateRows(find)
	s.Rows, s.Used, s.Datum, s.Notes = t.rows, place.used, datum, append(slices.Clone(s.Notes), place.note)
	return s, nil
}

// withPoints finds the place of a row whose numbers have a decimal comma. The row
// keeps its cells.
func withPoints(r *Row, place locator) {
	cells := r.Cells
	r.Cells = slices.Clone(cells)
	for _, i := range place.used {
		r.Cells[i] = strings.Replace(cells[i], ",", ".", 1)
	}
	place.find(r)
	r.Cells = cells
}

// ReadSheet reads a CSV of readings with their places.
func ReadSheet(f File, p Positions) (Sheet, error) {
	s, err := OpenSheet(f)
	if err != nil {
		return Sheet{}, err
	}
	return s.Locate(p)
}

// locator finds the place of a row.
type locator struct {
	used []int
	note string
	find func(*Row)
}

// place goes by the stated system, where there is one, else by what the columns are.
func (p Positions) place(t *table, epsg int) (place locator, datum string, err error) {
	if epsg == 0 {
		place, err = p.locator(t)
		return place, "", err
	}
	s, err := crs.ByCode(epsg)
	switch {
	case err != nil:
		return place, "", err
	case p.UTM != "" || p.Zone != "":
		return place, "", refuse(RuleTable, "epsg", "both epsg and a UTM zone are stated", "keep one")
	}
	if s.Degrees() {
		place, err = p.locator(t)
	} else {
		place, err = p.inSystem(t, s)
	}
	return place, s.Datum, err
}

const namePlaces = "name the columns latitude and longitude, or easting and northing with epsg = 2231 (its coordinate system) " +
	"or the UTM zone stated, or say in the job which they are"

func (p Positions) locator(t *table) (locator, error) {
	lat, err1 := t.coordinate("latitude", p.Latitude, "lat", "latitude")
	lon, err2 := t.coordinate("longitude", p.Longitude, "lon", "long", "lng", "longitude")
	if err := firstOf(err1, err2); err != nil {
		return locator{}, err
	}
	if lat >= 0 && lon >= 0 && (p.Latitude != "" || p.Easting == "") { // what is stated comes first
		note := fmt.Sprintf("Places were read as degrees from the columns %s and %s.", quote(t.header[lat]),
			quote(t.header[lon]))
		return locator{[]int{lat, lon}, note, degreesIn(lat, lon)}, nil
	}
	east, err1 := t.coordinate("easting", p.Easting, eastingNames...)
	north, err2 := t.coordinate("northing", p.Northing, northingNames...)
	zone, err3 := t.coordinate("UTM zone", p.Zone, "zone", "utm zone", "utm_zone")
	if err := firstOf(err1, err2); err != nil {
		return locator{}, err
	}
	if east < 0 || north < 0 {
		return locator{}, t.wrongHeader("no columns for a place", namePlaces)
	}
	if err3 != nil {
		return locator{}, err3
	}
	return p.utm(t, east, north, zone)
}

func firstOf(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// degreesIn reads the place of a row from two columns.
func degreesIn(lat, lon int) func(*Row) {
	return func(r *Row) {
		var south, west string
		r.Point[1], south = latitude().degrees(r.Cells[lat])
		r.Point[0], west = longitude().degrees(r.Cells[lon])
		if r.Fault = south; r.Fault == "" {
			r.Fault = west
		}
		if strings.Contains(south, "beyond the range") {
			r.Fault += ": are latitude and longitude swapped?"
		}
		r.Decimals = min(decimals(r.Cells[lat]), decimals(r.Cells[lon]))
	}
}

// decimals counts the digits after the point of a plain number; -1 of others.
func decimals(cell string) int {
	cell = strings.TrimSpace(cell)
	if _, ok := number(cell); !ok || strings.ContainsAny(cell, "eE") {
		return -1
	}
	_, after, _ := strings.Cut(cell, ".")
	return len(after)
}

package vector

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geodesic"
	"groundsheet/tiles/geojson"
)

// Positions says where the rows of a table have their place. Empty fields mean
// that columns are recognised by their names.
type Positions struct {
	Latitude, Longitude     string  // names of columns
	Easting, Northing, Zone string  // names of columns, UTM
	UTM                     string  // the zone of all rows, such as "13N"
	Unit                    float64 // metres in the unit of easting and northing; 0 = not stated
}

// Sheet is a table with a place in every row that gives one. Used are the
// columns of the place.
type Sheet struct {
	Header []string
	Rows   []Row
	Used   []int
	Notes  []string // plain sentences for the user
}

// Row is one row of a [Sheet].
type Row struct {
	Line     int // in the file, from 1
	Cells    []string
	Point    orb.Point
	Fault    string // why the row gives no place; "" = it does
	Decimals int    // of the coarser coordinate in decimal degrees; -1 where it is in another form
}

// ReadSheet reads a CSV of readings. A row without a place is marked, not
// dropped; a table without columns for the place is a [*Fault].
//
// UTM is taken on the ellipsoid of WGS 84, which NAD83 shares within 0.1 mm.
func ReadSheet(f File, p Positions) (Sheet, error) {
	switch {
	case len(f.Data) > MaxBytes:
		return Sheet{}, fault(geojson.RuleSize, "file", sizes("the file has %d MiB; %d is the most", len(f.Data), MaxBytes), "split the file")
	case sniff(f.Data) != isText:
		return Sheet{}, fault(RuleFormat, "file", "the content is "+string(sniff(f.Data)), "export the table as CSV")
	}
	t := &table{}
	text := t.text(f.Data)
	comma := t.widest(text)
	if err := t.readAny(text, comma); err != nil {
		return Sheet{}, err
	}
	s := Sheet{Header: t.header, Notes: t.notes}
	if t.blank > 0 {
		s.Notes = append(s.Notes, were(t.blank, "blank row")+" left out.")
	}
	place, err := p.placer(t.header)
	if err != nil {
		return Sheet{}, err
	}
	s.Used = place.used
	s.Notes = append(s.Notes, place.note)
	for _, row := range t.rows {
		r := Row{Line: row.line, Cells: row.cells, Decimals: -1}
		if got, want := len(row.cells), len(t.header); got != want {
			r.Fault = fmt.Sprintf("%d fields where the header has %d", got, want)
		} else {
			place.find(&r)
		}
		s.Rows = append(s.Rows, r)
	}
	return s, nil
}

// widest finds the divider that gives the first line the most columns.
func (t *table) widest(text string) (best rune) {
	best = ','
	for _, comma := range []rune{',', ';', '\t'} {
		if header, _, err := newRows(text, comma, true).next(); err == nil && len(header) > len(t.header) {
			best, t.header = comma, header
		}
	}
	return best
}

// placer finds the place of a row.
type placer struct {
	used []int
	note string
	find func(*Row)
}

const namePlaces = "name the columns latitude and longitude, or easting and northing with the UTM zone, or say in the job which they are"

func (p Positions) placer(header []string) (placer, error) {
	lat, err := pick(header, p.Latitude, "lat", "latitude")
	if err != nil {
		return placer{}, err
	}
	lon, err := pick(header, p.Longitude, "lon", "long", "lng", "longitude")
	if err != nil {
		return placer{}, err
	}
	if lat >= 0 && lon >= 0 {
		return degreesPlacer(header, lat, lon), nil
	}
	east, err := pick(header, p.Easting, "easting", "utm easting", "easting (m)", "easting_m", "easting (ft)", "easting_ft")
	if err != nil {
		return placer{}, err
	}
	north, err := pick(header, p.Northing, "northing", "utm northing", "northing (m)", "northing_m", "northing (ft)", "northing_ft")
	if err != nil {
		return placer{}, err
	}
	if east >= 0 && north >= 0 {
		return p.utmPlacer(header, east, north)
	}
	return placer{}, fault(RuleTable, "line 1", "no columns for a place; the header is "+quote(strings.Join(header, ", ")), namePlaces)
}

// pick finds a column by its stated name, or by the names it usually has; -1
// when there is none.
func pick(header []string, stated string, names ...string) (int, error) {
	if stated != "" {
		if i := slices.IndexFunc(header, func(s string) bool { return plainColumn(s) == plainColumn(stated) }); i >= 0 {
			return i, nil
		}
		return -1, fault(RuleTable, "line 1", "there is no column "+quote(stated)+"; the header is "+quote(strings.Join(header, ", ")), "fix the columns of the job's [[overlay]]")
	}
	i := column(header, names...)
	if i >= 0 && column(header[i+1:], names...) >= 0 {
		return -1, fault(RuleTable, "line 1", "more than one column is called "+strings.Join(names, " or "), "say in the job which one it is")
	}
	return i, nil
}

func degreesPlacer(header []string, lat, lon int) placer {
	return placer{[]int{lat, lon}, fmt.Sprintf("Places were read as degrees from the columns %s and %s.", quote(header[lat]), quote(header[lon])), func(r *Row) {
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
	}}
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

func (p Positions) utmPlacer(header []string, east, north int) (placer, error) {
	zone, err := pick(header, p.Zone, "zone", "utm zone", "utm_zone")
	if err != nil {
		return placer{}, err
	}
	unit := p.Unit
	if names := plainColumn(header[east] + header[north]); unit == 0 && (strings.Contains(names, "(ft)") || strings.Contains(names, "_ft")) {
		return placer{}, fault(RuleTable, "line 1", "easting and northing are in feet, and it is not said in which: at a northing of 14,000,000 ft the two feet are 28 ft apart",
			`write coordinates_in = "us survey ft" or "ft" in the job's [[overlay]]`)
	}
	if unit == 0 {
		unit = 1
	}
	if zone < 0 && p.UTM == "" {
		return placer{}, fault(RuleTable, "line 1", "easting and northing without a UTM zone", `write utm_zone = "13N" in the job's [[overlay]], or give the table a column zone`)
	}
	used := []int{east, north}
	if zone >= 0 {
		used = append(used, zone)
	}
	return placer{used, fmt.Sprintf("Places were read as UTM from the columns %s and %s, a unit being %s m.", quote(header[east]), quote(header[north]), strconv.FormatFloat(unit, 'g', 10, 64)), func(r *Row) {
		text := p.UTM
		if zone >= 0 {
			text = r.Cells[zone]
		}
		r.Point, r.Fault = fromUTM(r.Cells[east], r.Cells[north], text, unit)
	}}, nil
}

func fromUTM(east, north, zone string, unit float64) (orb.Point, string) {
	e, ok1 := number(strings.TrimSpace(east))
	n, ok2 := number(strings.TrimSpace(north))
	z, south, ok := parseZone(zone)
	switch {
	case !ok1 || !ok2:
		return orb.Point{}, quote(east+", "+north) + " is not an easting and a northing"
	case !ok:
		return orb.Point{}, quote(zone) + " is not a UTM zone, such as 13N or 55S"
	}
	e, n = e*unit, n*unit
	if e < 100_000 || e > 900_000 || n < 0 || n > 10_000_000 { // what a zone holds, with room
		detail := fmt.Sprintf("easting %.0f m, northing %.0f m is in no UTM zone", e, n)
		if e*0.3048 >= 100_000 && e*0.3048 <= 900_000 && unit == 1 {
			detail += ": are they feet?"
		}
		return orb.Point{}, detail
	}
	p, ok := geodesic.UTM(z, south).Inverse(orb.Point{e, n})
	if !ok {
		return orb.Point{}, "easting and northing are in no UTM zone"
	}
	return p, ""
}

// parseZone reads "13N". A zone with no half is refused: S may mean the
// southern half or a latitude band, so only N and S as halves are taken.
func parseZone(text string) (zone int, south, ok bool) {
	text = strings.ToUpper(strings.ReplaceAll(strings.TrimSpace(text), " ", ""))
	if text == "" {
		return 0, false, false
	}
	half := text[len(text)-1]
	zone, err := strconv.Atoi(text[:len(text)-1])
	return zone, half == 'S', err == nil && zone >= 1 && zone <= 60 && (half == 'N' || half == 'S')
}

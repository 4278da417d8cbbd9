package record

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles/words"
)

// Table is a table of readings with their places.
type Table struct {
	Header       []string
	Rows         []TableRow
	PlaceColumns []int    // columns that gave the place
	Notes        []string // assumptions made when the places were read
}

// TableFormat describes a table of readings where the names of its columns do
// not. With the zero value every column is recognized by its name.
type TableFormat struct {
	// meaning -> column name, such as "depth": "D1"; "" = no column means it. An error lists the meanings
	Columns map[string]string `toml:"columns"`
	Units   map[string]string `toml:"units"`    // "depth" or "accuracy" -> m, cm, mm, ft, in, ft-in
	UTMZone string            `toml:"utm_zone"` // of easting and northing, such as "13N"
	// unit of easting and northing; "" = meters, unless the columns' names say feet
	CoordinatesIn string `toml:"coordinates_in"`
	Decimal       string `toml:"decimal"`   // "," where numbers have a decimal comma
	NoHeader      bool   `toml:"no_header"` // the first line is a row: columns are "column 1" and so on
}

// decimalComma reports whether numbers have one; other marks are refused.
func (t TableFormat) decimalComma() (bool, error) {
	if !slices.Contains([]string{"", ".", ","}, t.Decimal) {
		return false, fmt.Errorf(`decimal = %s: write "," where numbers have a decimal comma, else leave it out`, Quote(t.Decimal))
	}
	return t.Decimal == ",", nil
}

// PlaceMeanings and Meanings list what a column can mean.
func PlaceMeanings() []string { return placeMeanings() }

// Meanings are those of columns that hold no place.
func Meanings() []string { return columnMeanings() }

// ColumnMeaning is the usual meaning of a column by its name, and the unit that the
// name states; "" where there is none.
func ColumnMeaning(name string) (meaning, unit string) { return columnMeaning(name) }

// placeMeanings lists what a column can mean for the place.
func placeMeanings() []string {
	return []string{"latitude", "longitude", "easting", "northing", "zone"}
}

// CoordinateUnit is the unit of easting and northing in meters; 0 when it is
// not stated.
func (t TableFormat) CoordinateUnit() (float64, error) {
	if t.CoordinatesIn == "" {
		return 0, nil
	}
	if u, ok := findUnit(t.CoordinatesIn); ok && slices.Contains([]string{"m", "ft", "us survey ft"}, u.name) {
		return u.meters, nil
	}
	return 0, fmt.Errorf(`coordinates_in = %s: write "m", "ft" (0.3048 m) or "us survey ft" (1200/3937 m)`,
		Quote(t.CoordinatesIn))
}

// Places splits off the columns of the place.
func (t TableFormat) Places() (rest TableFormat, places map[string]string) {
	rest, places = t, map[string]string{}
	rest.Columns = map[string]string{}
	for meaning, name := range t.Columns {
		if slices.Contains(placeMeanings(), meaning) {
			places[meaning] = name
		} else {
			rest.Columns[meaning] = name
		}
	}
	return rest, places
}

// columnMeanings lists what a column can mean, besides its place.
func columnMeanings() []string {
	return []string{
		"depth", "accuracy", "frequency", "current", "time", "line", "order", "type", "label", "note", "size", "material",
		"owner", "quality_level", "depth_of", "status", "kind", "who", "photo", "elevation", "vertical_datum",
	}
}

// columnNames are the names that columns without a unit have for a meaning, in
// lower case (common practice).
var columnNames = map[string]string{
	"line": "line", "line id": "line", "lineid": "line", "line no": "line",
	"time": "time", "date": "time", "date time": "time", "datetime": "time", "timestamp": "time", "recorded": "time",
	"note": "note", "notes": "note", "remark": "note", "remarks": "note", "comment": "note", "comments": "note",
	"label": "label", "id": "label", "name": "label", "point": "label", "point id": "label", "reading": "label",
	"order": "order", "sequence": "order", "seq": "order", "station no": "order",
	"type": "type", "utility": "type", "utility type": "type",
	"quality level": "quality_level", "ql": "quality_level", "depth of": "depth_of", "vertical datum": "vertical_datum",
	"who": "who", "measured by": "who", "exposed by": "who",
	"size": "size", "material": "material", "owner": "owner", "status": "status", "kind": "kind", "photo": "photo",
}

// measuredColumn is the name of a column whose unit may stand in the name too.
var measuredColumn = regexp.MustCompile(`^(?:(depth|cover)|(accuracy|hacc|h acc|horizontal accuracy)|(frequency|freq\.?)|` +
	`(current|curr\.?|amps|amperes|amperage)|(elevation|elev))` +
	`(?: ?\(([^)]*)\)| (m|cm|mm|ft|in|ft in|feet|inches|hz|khz|ma|a))?$`)

// columnMeaning gives the usual meaning of a column's name, and the unit in it;
// "" where there is none.
func columnMeaning(name string) (meaning, unit string) {
	name = strings.NewReplacer("_", " ", "-", " ").Replace(name)
	plain := strings.ToLower(strings.Join(strings.Fields(name), " "))
	if meaning = columnNames[plain]; meaning != "" {
		return meaning, ""
	}
	m := measuredColumn.FindStringSubmatch(plain)
	if m == nil {
		return "", ""
	}
	for i, quantity := range []string{"depth", "accuracy", "frequency", "current", "elevation"} {
		if m[i+1] != "" {
			meaning = quantity
		}
	}
	if unit = m[6] + m[7]; unit == "" && strings.HasPrefix(plain, "amp") {
		unit = "A" // the name is the unit
	}
	return meaning, unit
}

// column is a recognized column.
type column struct {
	index int
	unit  string // as the name of the column or the job says it
}

// text says how a column was read.
func (c column) text(meaning, name string) string {
	if c.unit == "" {
		return words.Say("finding.column", "meaning", meaning, "name", name)
	}
	return words.Say("finding.column_unit", "meaning", meaning, "name", name, "unit", unitText(c.unit))
}

// unitText is a unit as people say it.
func unitText(unit string) string {
	switch known, _ := findUnit(unit); known.name {
	case "m":
		return words.Say("finding.unit_m")
	case "cm":
		return words.Say("finding.unit_cm")
	case "mm":
		return words.Say("finding.unit_mm")
	case "ft":
		return words.Say("finding.unit_ft")
	case "in":
		return words.Say("finding.unit_in")
	case feetInches:
		return words.Say("finding.unit_feet_inches")
	}
	for _, symbol := range []string{"Hz", "kHz", "mA", "A"} { // names of columns are compared in lower case
		if strings.EqualFold(unit, symbol) {
			return symbol
		}
	}
	return unit
}

// recognizeColumns finds the meaning of each column. What the job says comes first.
func recognizeColumns(t Table, format TableFormat) (map[string]column, error) {
	found := map[string]column{}
	taken := map[int]bool{}
	for _, i := range t.PlaceColumns {
		taken[i] = true
	}
	for meaning, name := range format.Columns {
		if !slices.Contains(columnMeanings(), meaning) {
			return nil, fmt.Errorf("columns: %q is not something a column can mean: use %s",
				meaning, strings.Join(append(placeMeanings(), columnMeanings()...), ", "))
		}
		if name == "" {
			continue // stated: no column means this
		}
		i := slices.IndexFunc(t.Header, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), strings.TrimSpace(name)) })
		if i < 0 {
			return nil, fmt.Errorf("columns: there is no column %s for %s; the header is %s",
				Quote(name), meaning, Quote(strings.Join(t.Header, ", ")))
		}
		_, unit := columnMeaning(t.Header[i])
		found[meaning], taken[i] = column{i, unit}, true
	}
	for i, name := range t.Header {
		meaning, unit := columnMeaning(name)
		if _, stated := format.Columns[meaning]; meaning == "" || taken[i] || stated {
			continue
		}
		if first, twice := found[meaning]; twice {
			return nil, fmt.Errorf("the columns %s and %s both seem to be the %s: say which in columns = { %s = %s }",
				Quote(t.Header[first.index]), Quote(name), meaning, meaning, Quote(name))
		}
		found[meaning], taken[i] = column{i, unit}, true
	}
	for meaning, unit := range format.Units {
		c, ok := found[meaning]
		if !ok {
			return nil, fmt.Errorf("units: no column is the %s", meaning)
		}
		c.unit = unit
		found[meaning] = c
	}
	return found, nil
}

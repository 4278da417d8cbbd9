package record

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// TableRow is one row of a [Table].
type TableRow struct {
	Line     int // in the file, from 1
	Cells    []string
	Point    orb.Point
	Fault    string // why it gives no place; "" = it does
	Decimals int    // of the coarser coordinate in decimal degrees; -1 where it is in another form
}

// FromTable makes an overlay of a table of readings, without the rows that the
// map manager leaves out (Meta.LeaveOut). An unreadable row is a finding with its
// line and reason, and so is the meaning found for each column; a column of
// lengths without any unit is an error that says what to write. Lengths are
// meters inside ("depth_m"); the cell as written stays beside it ("depth").
func FromTable(t Table, m Meta, id string, format TableFormat) (Overlay, error) {
	if err := m.Check(); err != nil {
		return Overlay{}, err
	}
	r, err := newTableReader(t, m, format)
	if err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	r.reportColumns()
	for _, l := range m.LeaveOut {
		r.add("left out", Warning, l.Line, words.Say("leftout.finding", "why", l.Why))
	}
	var features []geojson.Feature
	var unread []Finding
	for _, row := range r.table.Rows {
		f, err := r.feature(row)
		if err == nil {
			features = append(features, f)
			continue
		}
		r.add("row", Fault, row.Line, words.Say("finding.row", "why", err.Error()))
		unread = append(unread, r.findings[len(r.findings)-1])
	}
	if len(features) == 0 && len(unread) > 0 {
		return Overlay{}, fmt.Errorf("overlay %s: none of %d rows can be read; line %d: %s",
			m.File, len(unread), unread[0].Line, unread[0].Detail)
	}
	o, err := assemble(features, m, id)
	if err != nil {
		return Overlay{}, err
	}
	o.Findings = slices.Concat(o.Findings, r.findings, r.suspectUnits(features), otherTypes(o))
	return o, nil
}

type tableReader struct {
	table    Table
	columns  map[string]column
	units    map[string]lengthUnit
	file     string
	comma    bool // numbers have a decimal comma
	findings []Finding
}

func newTableReader(t Table, m Meta, format TableFormat) (r tableReader, err error) {
	r = tableReader{units: map[string]lengthUnit{}, file: m.File}
	if r.table, err = t.without(m.LeaveOut); err != nil {
		return r, err
	}
	if r.comma, err = format.decimalComma(); err != nil {
		return r, err
	}
	if r.columns, err = recognizeColumns(r.table, format); err != nil {
		return r, err
	}
	return r, r.resolveUnits()
}

func (r *tableReader) add(kind string, s Severity, line int, detail string) {
	r.findings = append(r.findings, Finding{kind, s, r.file, line, detail})
}

// resolveUnits settles the units of depth and accuracy before any row is read.
func (r *tableReader) resolveUnits() error {
	for _, meaning := range []string{"depth", "accuracy"} {
		c, ok := r.columns[meaning]
		if !ok {
			continue
		}
		unit, known := findUnit(c.unit)
		if c.unit != "" && !known {
			return fmt.Errorf("the %s is in %s, which is not a unit known here: use m, cm, mm, ft, in or ft-in",
				meaning, Quote(c.unit))
		}
		r.units[meaning] = unit
		if known {
			continue
		}
		if err := r.requireUnit(meaning, c); err != nil {
			return err
		}
	}
	return nil
}

// requireUnit refuses a column with lengths of which none has a unit. Where some
// have one, the others are faults of their rows.
func (r *tableReader) requireUnit(meaning string, c column) error {
	line, unit, others := 0, "in", "m, ft, ft-in"
	for _, row := range r.table.Rows {
		if c.index >= len(row.Cells) {
			continue
		}
		cell := r.withPoint(trimmed(meaning, row.Cells[c.index]))
		if _, err := parseLength(cell, lengthUnit{}); err == nil {
			return nil
		}
		_, number := plainNumber(cell)
		pair := dashed.MatchString(cell)
		if pair {
			unit, others = feetInches, "m, ft, in"
		}
		if line == 0 && (number || pair) {
			line = row.Line
		}
	}
	if line == 0 {
		return nil
	}
	return fmt.Errorf("line %d: column %s has numbers without a unit: write units = { %s = \"%s\" } (or %s) in its [[overlay]], "+
		"or name the column \"%s (%s)\"", line, Quote(r.table.Header[c.index]), meaning, unit, others, meaning, unit)
}

// trimmed is a cell without blanks, and of an accuracy without its ±.
func trimmed(meaning, cell string) string {
	if findQuantity(meaning).plusMinus() {
		cell = measure.TrimPlusMinus(cell)
	}
	return strings.TrimSpace(cell)
}

// withPoint is a cell whose number has a decimal point.
func (r *tableReader) withPoint(cell string) string {
	if !r.comma {
		return cell
	}
	return strings.Replace(cell, ",", ".", 1)
}

// reportColumns adds findings on the meaning found for each column.
func (r *tableReader) reportColumns() {
	var used, rest []string
	taken := slices.Clone(r.table.PlaceColumns)
	for _, meaning := range columnMeanings() {
		if c, ok := r.columns[meaning]; ok {
			used, taken = append(used, c.text(meaning, Quote(r.table.Header[c.index]))), append(taken, c.index)
		}
	}
	for _, n := range r.table.Notes {
		r.add("columns", Note, 0, n)
	}
	for i, name := range r.table.Header {
		if !slices.Contains(taken, i) {
			rest = append(rest, Quote(name))
		}
	}
	if len(used) > 0 {
		r.add("columns", Note, 1, words.Say("finding.columns", "columns", strings.Join(used, ", ")))
	}
	if len(rest) > 0 {
		r.add("columns", Note, 1, words.Say("finding.columns_kept", "columns", strings.Join(rest, ", ")))
	}
}

// feature makes a reading of a row.
func (r *tableReader) feature(row TableRow) (geojson.Feature, error) {
	if row.Fault != "" {
		return geojson.Feature{}, errors.New(row.Fault)
	}
	p := map[string]any{"line_in_file": float64(row.Line)}
	taken := slices.Clone(r.table.PlaceColumns)
	var faults []string
	for _, meaning := range columnMeanings() {
		c, ok := r.columns[meaning]
		if !ok {
			continue
		}
		taken = append(taken, c.index)
		if c.index >= len(row.Cells) || strings.TrimSpace(row.Cells[c.index]) == "" {
			continue
		}
		if err := r.value(p, meaning, row.Cells[c.index], c); err != nil {
			faults = append(faults, meaning+": "+err.Error())
		}
	}
	if len(faults) > 0 {
		return geojson.Feature{}, errors.New(strings.Join(faults, "; "))
	}
	for i, cell := range row.Cells {
		name := keptName(r.table.Header[i])
		if !slices.Contains(taken, i) && name != "" && cell != "" && p[name] == nil {
			p[name] = cell
		}
	}
	if row.Decimals >= 0 {
		p["decimals"] = float64(row.Decimals)
	}
	p, err := normalize(p)
	return geojson.Feature{Geometry: row.Point, Properties: p, Place: fmt.Sprintf("line %d", row.Line)}, err
}

// keptName is the property of a column that is kept as it stands. One whose name is
// that of a length must not pass for it: another column is, or none.
func keptName(header string) string {
	name := strings.TrimSpace(header)
	if slices.ContainsFunc(quantities, func(q quantity) bool {
		_, its := q.unitOf(name)
		return its && slices.Contains(columnMeanings(), q.name)
	}) {
		return "column " + name
	}
	return name
}

// value puts one cell into the properties of a reading.
func (r *tableReader) value(p map[string]any, meaning, cell string, c column) error {
	text := strings.TrimSpace(cell)
	switch meaning {
	case "depth", "accuracy":
		return r.length(p, meaning, text, c.unit)
	case "frequency":
		return scaled(p, "frequency_hz", r.withPoint(text), c.unit, map[string]float64{"hz": 1, "khz": 1000})
	case "current":
		return scaled(p, "current_ma", r.withPoint(text), c.unit, map[string]float64{"ma": 1, "a": 1000})
	case "order":
		v, ok := plainNumber(r.withPoint(text))
		if !ok {
			return fmt.Errorf("%s is not a number", Quote(cell))
		}
		p["order"] = v
	case "time":
		p["date"] = text
	case "elevation": // kept as text: nothing is computed from it
		p["elevation"] = withUnit(text, text, c.unit)
	default:
		p[meaning] = text
	}
	return nil
}

func (r *tableReader) length(p map[string]any, meaning, text, unit string) error {
	plain := r.withPoint(trimmed(meaning, text))
	meters, err := parseLength(plain, r.units[meaning])
	if err != nil {
		return err
	}
	text = withUnit(text, plain, unit)
	if err := findQuantity(meaning).within(meters, text); err != nil {
		return err
	}
	p[meaning+"_m"] = roundLength(meters)
	p[meaning+"_as_written"] = text
	return nil
}

// withUnit adds the unit of a column to a text that is a number alone.
func withUnit(text, number, unit string) string {
	if _, bare := plainNumber(number); bare && unit != "" {
		return text + " " + unit
	}
	return text
}

// scaled reads a number whose unit is in the cell or in the column's name.
func scaled(p map[string]any, name, text, unit string, units map[string]float64) error {
	number := strings.TrimRight(strings.ToLower(text), " abcdefghijklmnopqrstuvwxyz")
	if own := strings.TrimSpace(strings.ToLower(text)[len(number):]); own != "" {
		unit = own
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	scale, known := units[strings.ToLower(strings.TrimSpace(unit))]
	switch {
	case err != nil || !(v >= 0) || math.IsInf(v, 0):
		return fmt.Errorf("%s is not a number", Quote(text))
	case !known:
		return fmt.Errorf("%s has no unit that is known: write it in the cell or in the column's name, such as frequency (Hz) or current (mA)", Quote(text))
	}
	p[name] = v * scale
	return nil
}

// otherTypes finds rows whose type is not the utility of the overlay: all of it
// is drawn as that one utility.
func otherTypes(o Overlay) []Finding {
	var lines []string
	for _, f := range o.Features {
		kind := strings.ToLower(Text(f.Properties, "type"))
		own := strings.EqualFold(kind, o.Kind.Letter) || strings.Contains(kind, o.Kind.Code) || slices.Equal(UtilitiesIn(kind), []string{o.Kind.Code})
		if kind != "" && !own && !o.IsTestHole(f) {
			lines = append(lines, f.Place)
		}
	}
	if len(lines) == 0 {
		return nil
	}
	say := words.Say("finding.type", "n", len(lines), "which", Several(lines), "utility", o.Kind.Code)
	return []Finding{{"type", Warning, o.File, 0, say}}
}

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

// FromTable makes an overlay of a table of readings. Rows that the map manager
// leaves out (Meta.LeaveOut) are not read, and told. Rows that cannot be read
// are findings with their line and reason; a column of lengths whose unit
// nothing says is an error that tells what to write. What each column was
// taken for is a finding too. Lengths are metres inside ("depth_m"); the cell
// as it was written stays beside it ("depth").
func FromTable(t Table, m Meta, id string, how TableFormat) (Overlay, error) {
	if err := m.Check(); err != nil {
		return Overlay{}, err
	}
	t, err := t.without(m.LeaveOut)
	if err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	uses, err := recognise(t, how)
	if err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	r := tableReader{table: t, uses: uses, units: map[string]lengthUnit{}, file: m.File}
	if err := r.lengths(); err != nil {
		return Overlay{}, fmt.Errorf("overlay %s: %w", m.File, err)
	}
	r.tellColumns()
	for _, l := range m.LeaveOut {
		r.find("left out", Warning, l.Line, words.Say("leftout.finding", "why", l.Why))
	}
	var features []geojson.Feature
	for _, row := range t.Rows {
		f, err := r.feature(row)
		if err != nil {
			r.find("row", Fault, row.Line, words.Say("finding.row", "why", err.Error()))
			continue
		}
		features = append(features, f)
	}
	if len(features) == 0 && len(t.Rows) > 0 {
		first := r.findings[slices.IndexFunc(r.findings, func(f Finding) bool { return f.Kind == "row" })]
		return Overlay{}, fmt.Errorf("overlay %s: none of %d rows can be read; line %d: %s", m.File, len(t.Rows), first.Line, first.Detail)
	}
	o, err := assemble(features, m, id)
	if err != nil {
		return Overlay{}, err
	}
	o.Findings = append(o.Findings, r.findings...)
	o.Findings = append(o.Findings, r.suspectUnits(features)...)
	o.Findings = append(o.Findings, otherTypes(o)...)
	return o, nil
}

type tableReader struct {
	table    Table
	uses     map[string]columnUse
	units    map[string]lengthUnit
	file     string
	findings []Finding
}

func (r *tableReader) find(kind string, s Severity, line int, detail string) {
	r.findings = append(r.findings, Finding{kind, s, r.file, line, detail})
}

// lengths settles the units of depth and accuracy before any row is read: a
// column in which no cell has a unit is refused as a whole.
func (r *tableReader) lengths() error {
	for _, meaning := range []string{"depth", "accuracy"} {
		use, has := r.uses[meaning]
		if !has {
			continue
		}
		unit, known := findUnit(use.unit)
		if use.unit != "" && !known {
			return fmt.Errorf("the %s is in %s, which is not a unit known here: use m, cm, mm, ft, in or ft-in", meaning, Quote(use.unit))
		}
		r.units[meaning] = unit
		if known {
			continue
		}
		if err := r.bare(meaning, use); err != nil {
			return err
		}
	}
	return nil
}

// bare refuses a column with lengths of which none has a unit. Where some have
// one, the others are faults of their rows.
func (r *tableReader) bare(meaning string, use columnUse) error {
	line, unit, others := 0, "in", "m, ft, ft-in"
	for _, row := range r.table.Rows {
		if use.index >= len(row.Cells) {
			continue
		}
		cell := trimmed(meaning, row.Cells[use.index])
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
	name := r.table.Header[use.index]
	return fmt.Errorf("line %d: column %s has numbers without a unit: write units = { %s = \"%s\" } (or %s) in its [[overlay]], or name the column \"%s (%s)\"", line, Quote(name), meaning, unit, others, meaning, unit)
}

// trimmed is a cell without blanks, and of an accuracy without its ±.
func trimmed(meaning, cell string) string {
	if findQuantity(meaning).plusMinus() {
		cell = measure.TrimPlusMinus(cell)
	}
	return strings.TrimSpace(cell)
}

func (r *tableReader) tellColumns() {
	var told []string
	taken := slices.Clone(r.table.PlaceColumns)
	for _, meaning := range Meanings() {
		if use, has := r.uses[meaning]; has {
			told, taken = append(told, use.words(meaning, Quote(r.table.Header[use.index]))), append(taken, use.index)
		}
	}
	for _, n := range r.table.Notes {
		r.find("columns", Note, 0, n)
	}
	var rest []string
	for i, name := range r.table.Header {
		if !slices.Contains(taken, i) {
			rest = append(rest, Quote(name))
		}
	}
	if len(told) > 0 {
		r.find("columns", Note, 1, words.Say("finding.columns", "columns", strings.Join(told, ", ")))
	}
	if len(rest) > 0 {
		r.find("columns", Note, 1, words.Say("finding.columns_kept", "columns", strings.Join(rest, ", ")))
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
	for _, meaning := range Meanings() {
		use, has := r.uses[meaning]
		if !has {
			continue
		}
		taken = append(taken, use.index)
		if use.index >= len(row.Cells) || strings.TrimSpace(row.Cells[use.index]) == "" {
			continue
		}
		if err := r.value(p, meaning, row.Cells[use.index], use); err != nil {
			faults = append(faults, meaning+": "+err.Error())
		}
	}
	if len(faults) > 0 {
		return geojson.Feature{}, errors.New(strings.Join(faults, "; "))
	}
	for i, cell := range row.Cells {
		if name := strings.TrimSpace(r.table.Header[i]); !slices.Contains(taken, i) && name != "" && cell != "" && p[name] == nil {
			p[name] = cell
		}
	}
	if row.Decimals >= 0 {
		p["decimals"] = float64(row.Decimals)
	}
	p, err := normal(p)
	return geojson.Feature{Geometry: row.Point, Properties: p, Place: fmt.Sprintf("line %d", row.Line)}, err
}

// value puts one cell into the properties of a reading.
func (r *tableReader) value(p map[string]any, meaning, cell string, use columnUse) error {
	text := strings.TrimSpace(cell)
	switch meaning {
	case "depth", "accuracy":
		plain := trimmed(meaning, text)
		metres, err := parseLength(plain, r.units[meaning])
		if err != nil {
			return err
		}
		if _, bare := plainNumber(plain); bare {
			text += " " + use.unit
		}
		if err := findQuantity(meaning).within(metres, text); err != nil {
			return err
		}
		p[meaning+"_m"] = math.Round(metres*1e7) / 1e7
		p[meaning+"_as_written"] = text
	case "frequency":
		return scaled(p, "frequency_hz", text, use.unit, map[string]float64{"hz": 1, "khz": 1000})
	case "current":
		return scaled(p, "current_ma", text, use.unit, map[string]float64{"ma": 1, "a": 1000})
	case "order":
		v, ok := plainNumber(text)
		if !ok {
			return fmt.Errorf("%s is not a number", Quote(cell))
		}
		p["order"] = v
	case "time":
		p["date"] = text
	case "elevation": // told as text, never reckoned with
		if _, bare := plainNumber(text); bare && use.unit != "" {
			text += " " + use.unit
		}
		p["elevation"] = text
	default:
		p[meaning] = text
	}
	return nil
}

// scaled reads a number whose unit stands in the cell or in the column's name.
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

// otherTypes tells of rows whose type is not the utility of the overlay: all
// of it is drawn as that one utility.
func otherTypes(o Overlay) []Finding {
	var lines []string
	for _, f := range o.Features {
		kind := strings.ToLower(Text(f.Properties, "type"))
		if kind != "" && !o.IsTestHole(f) && kind != o.Kind.Code && !strings.EqualFold(kind, o.Kind.Letter) && !strings.Contains(kind, o.Kind.Code) {
			lines = append(lines, f.Place)
		}
	}
	if len(lines) == 0 {
		return nil
	}
	return []Finding{{"type", Warning, o.File, 0, words.Say("finding.type", "n", len(lines), "which", Several(lines), "utility", o.Kind.Code)}}
}

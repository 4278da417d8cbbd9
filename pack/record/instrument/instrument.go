// Package instrument reads the lines that a locator sends to the computer on site. No
// maker's format is built in: the job states how the lines of its instrument are to be
// read, and what is not stated is not read.
package instrument

import (
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"groundsheet/pack/record"
)

// Format says how a line of an instrument is to be read.
type Format struct {
	Name      string            `toml:"name" json:"name"`                     // as reports name it
	Form      string            `toml:"form" json:"form"`                     // [CSV] or [KeyValue]
	Separator string            `toml:"separator" json:"separator,omitempty"` // one character between values; "" = a comma
	Starts    string            `toml:"starts" json:"starts,omitempty"`       // other lines are passed over; "" = all are read
	Values    []string          `toml:"values" json:"values,omitempty"`       // CSV: a name for each value in its order; "" = not read
	Columns   map[string]string `toml:"columns" json:"columns"`               // depth, current, frequency -> name
	Units     map[string]string `toml:"units" json:"units,omitempty"`         // depth, current, frequency -> unit
	DepthOf   string            `toml:"depth_of" json:"depth_of,omitempty"`   // what its depth is measured to: "center of signal"
}

// The forms of a line.
const (
	CSV      = "csv"       // RFC 4180, one line a record
	KeyValue = "key=value" // D=1.20,F=8192
)

// meanings are what is read of a line.
var meanings = []string{"depth", "current", "frequency"}

// What no locator tells more than: 100 A, 1 MHz. The project's own limits, no source.
const mostCurrent, mostFrequency = 100_000, 1_000_000

// longestLine is the longest line that is read, in bytes.
const longestLine = 400

// Check says what of the format cannot be used, or nil.
func (f Format) Check() error {
	separator := f.separator()
	if utf8.RuneCountInString(separator) != 1 || strings.ContainsAny(separator, "\"\r\n=.\uFFFD") {
		return fmt.Errorf("separator = %q: want one character that no value has", f.Separator)
	}
	if len(f.Columns) == 0 {
		return errors.New(`columns are missing: write which name means what, such as columns = { depth = "D" }`)
	}
	switch {
	case f.Form != CSV && f.Form != KeyValue:
		return fmt.Errorf("form = %q: want %q or %q", f.Form, CSV, KeyValue)
	case f.Form == CSV && len(f.Values) == 0:
		return errors.New(`values are missing: name the values of a line in their order, such as values = ["", "D", "F"]`)
	case f.Form == KeyValue && len(f.Values) > 0:
		return fmt.Errorf("values are for form = %q: in %s each value has its name before it", CSV, KeyValue)
	}
	for _, meaning := range slices.Sorted(maps.Keys(f.Columns)) {
		if err := f.checkColumn(meaning); err != nil {
			return err
		}
	}
	for _, meaning := range slices.Sorted(maps.Keys(f.Units)) {
		if f.Columns[meaning] == "" {
			return fmt.Errorf("units: %s is not in columns", record.Quote(meaning))
		}
	}
	return nil
}

func (f Format) checkColumn(meaning string) error {
	name := f.Columns[meaning]
	switch {
	case !slices.Contains(meanings, meaning):
		return fmt.Errorf("columns: %s is not read of an instrument: use %s", record.Quote(meaning), strings.Join(meanings, ", "))
	case f.Form == CSV && !slices.Contains(f.Values, name):
		return fmt.Errorf("columns: no value is called %s, which is said to be the %s", record.Quote(name), meaning)
	}
	if _, err := record.ReadFields(map[string]any{name: "0"}, map[string]string{meaning: name}, f.Units); err != nil {
		return fmt.Errorf("units of %s: %w", meaning, err)
	}
	return nil
}

func (f Format) separator() string {
	if f.Separator == "" {
		return ","
	}
	return f.Separator
}

// Reading is what one line said. nil = it did not say.
type Reading struct {
	Line        string   `json:"line"` // as it came, without its end
	DepthM      *float64 `json:"depth_m"`
	DepthAsTold string   `json:"depth_as_told"` // with its unit; "" without
	DepthOf     string   `json:"depth_of"`      // what the depth is measured to, as the job states it
	CurrentMA   *float64 `json:"current_ma"`
	FrequencyHz *float64 `json:"frequency_hz"`
}

// Read reads a line without its end. ok is false for a line that the format passes over.
func (f Format) Read(line string) (r Reading, ok bool, err error) {
	if !strings.HasPrefix(line, f.Starts) {
		return r, false, nil
	}
	switch {
	case len(line) > longestLine:
		return r, false, fmt.Errorf("the line has more than %d characters", longestLine)
	case !utf8.ValidString(line) || strings.ContainsFunc(line, unicode.IsControl):
		return r, false, errors.New("the line is not text: is the baud rate right?")
	}
	body, err := withoutChecksum(line)
	if err != nil {
		return r, false, err
	}
	values, err := f.values(strings.TrimPrefix(body, f.Starts))
	if err != nil {
		return r, false, err
	}
	p, err := record.ReadFields(values, f.Columns, f.Units)
	if err != nil {
		return r, false, err
	}
	r = Reading{
		Line: line, DepthM: record.Number(p, "depth_m"), DepthAsTold: record.Text(p, "depth_as_written"),
		CurrentMA: record.Number(p, "current_ma"), FrequencyHz: record.Number(p, "frequency_hz"),
	}
	for _, q := range []struct {
		name  string
		value *float64
		most  float64
	}{{"a current of %v mA", r.CurrentMA, mostCurrent}, {"a frequency of %v Hz", r.FrequencyHz, mostFrequency}} {
		if q.value != nil && (*q.value < 0 || *q.value > q.most) {
			return r, false, fmt.Errorf(q.name+" is none of a locator", *q.value)
		}
	}
	if r.DepthM != nil {
		r.DepthOf = f.DepthOf
	}
	return r, r.DepthM != nil || r.CurrentMA != nil || r.FrequencyHz != nil, nil
}

// withoutChecksum proves and takes off a checksum as NMEA 0183 has it: the exclusive or of
// what stands between $ and *.
func withoutChecksum(line string) (string, error) {
	i := strings.LastIndexByte(line, '*')
	if !strings.HasPrefix(line, "$") || i < 0 || len(line) != i+3 {
		return line, nil
	}
	want, err := hex.DecodeString(line[i+1:])
	if err != nil {
		return line, nil //nolint:nilerr // no checksum, but a star in the text
	}
	var got byte
	for _, b := range []byte(line[1:i]) {
		got ^= b
	}
	if got != want[0] {
		return "", fmt.Errorf("its checksum is %02X, but it says %02X", got, want[0])
	}
	return line[:i], nil
}

// values are the values of a line by their names.
func (f Format) values(line string) (map[string]any, error) {
	separator, _ := utf8.DecodeRuneInString(f.separator())
	line = strings.TrimSpace(line)
	if f.Form == KeyValue {
		values := map[string]any{}
		for part := range strings.SplitSeq(line, string(separator)) {
			key, value, _ := strings.Cut(part, "=")
			if key = strings.TrimSpace(key); key == "" {
				continue
			}
			if _, twice := values[key]; twice {
				return nil, fmt.Errorf("it says %s twice", record.Quote(key))
			}
			values[key] = strings.TrimSpace(value)
		}
		return values, nil
	}
	in := csv.NewReader(strings.NewReader(line))
	in.Comma, in.TrimLeadingSpace = separator, true
	cells, err := in.Read()
	if err != nil {
		return nil, err
	}
	if len(cells) < len(f.Values) {
		return nil, fmt.Errorf("it has %d values, and %d are stated", len(cells), len(f.Values))
	}
	values := map[string]any{}
	for i, name := range f.Values {
		if name != "" {
			values[name] = strings.TrimSpace(cells[i])
		}
	}
	return values, nil
}

package shapefile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Limits of the table (dBASE III).
const (
	MostName     = 10  // bytes of a field's name
	MostText     = 254 // bytes of a text
	mostDecimals = 15
	mostFields   = 128
)

var fieldName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]{0,9}$`)

// column is a field with its width in bytes.
type column struct {
	Field
	width, decimals int
	cells           []string
}

// table makes the .dbf.
func (s Set) table() ([]byte, []Cut, error) {
	if len(s.Fields) == 0 || len(s.Fields) > mostFields {
		return nil, nil, fmt.Errorf("a table has 1 to %d fields, not %d", mostFields, len(s.Fields))
	}
	columns, cut, err := s.columns()
	if err != nil {
		return nil, nil, err
	}
	size := 1
	for _, c := range columns {
		size += c.width
	}
	var out bytes.Buffer
	out.Write([]byte{3, byte(s.Date.Year() - 1900), byte(s.Date.Month()), byte(s.Date.Day())})
	_ = binary.Write(&out, binary.LittleEndian, uint32(len(s.Rows)))
	_ = binary.Write(&out, binary.LittleEndian, []uint16{uint16(32 + 32*len(columns) + 1), uint16(size)})
	out.Write(make([]byte, 20))
	for _, c := range columns {
		head := make([]byte, 32)
		copy(head, c.Name)
		head[11], head[16], head[17] = 'C', byte(c.width), byte(c.decimals)
		if c.Number {
			head[11] = 'N'
		}
		out.Write(head)
	}
	out.WriteByte('\r')
	for i := range s.Rows {
		out.WriteByte(' ') // not deleted
		for _, c := range columns {
			pad := strings.Repeat(" ", c.width-len(c.cells[i]))
			if c.Number {
				out.WriteString(pad + c.cells[i])
			} else {
				out.WriteString(c.cells[i] + pad)
			}
		}
	}
	out.WriteByte(0x1a)
	return out.Bytes(), cut, nil
}

// columns fits the values into columns as narrow as they can be.
func (s Set) columns() (all []column, cut []Cut, err error) {
	seen := map[string]bool{}
	for j, f := range s.Fields {
		low := strings.ToLower(f.Name)
		if !fieldName.MatchString(f.Name) || seen[low] {
			return nil, nil, fmt.Errorf("%q is no name of its own for a field: ten letters, digits and _ at most", f.Name)
		}
		seen[low] = true
		c := column{Field: f, width: 1}
		if f.Number {
			c.decimals = s.decimals(j)
		}
		for i, r := range s.Rows {
			if len(r.Values) != len(s.Fields) {
				return nil, nil, fmt.Errorf("feature %d has %d values for %d fields", i+1, len(r.Values), len(s.Fields))
			}
			cell, whole, err := c.cell(r.Values[j])
			if err != nil {
				return nil, nil, fmt.Errorf("feature %d, %s: %w", i+1, f.Name, err)
			}
			if whole > len(cell) && !f.Number {
				cut = append(cut, Cut{i, f.Name, whole})
			}
			c.cells = append(c.cells, cell)
			c.width = max(c.width, len(cell))
		}
		all = append(all, c)
	}
	return all, cut, nil
}

// decimals is how many the numbers of a column have.
func (s Set) decimals(j int) (most int) {
	for _, r := range s.Rows {
		if v, ok := valueAt(r, j).(float64); ok {
			_, after, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
			most = max(most, len(after))
		}
	}
	return min(most, mostDecimals)
}

func valueAt(r Row, j int) any {
	if j < len(r.Values) {
		return r.Values[j]
	}
	return nil
}

// cell is a value as the table holds it, and how long its text is in whole. No value
// is all blanks.
func (c column) cell(v any) (cell string, whole int, err error) {
	switch v := v.(type) {
	case nil:
		return "", 0, nil
	case float64:
		text := strconv.FormatFloat(v, 'f', c.decimals, 64)
		if !c.Number || math.IsNaN(v) || math.IsInf(v, 0) || len(text) > 32 {
			return "", 0, fmt.Errorf("%v does not fit into the field", v)
		}
		return text, len(text), nil
	case string:
		if c.Number {
			return "", 0, fmt.Errorf("a text is in a field of numbers")
		}
		v = strings.ReplaceAll(strings.ToValidUTF8(v, "\ufffd"), "\x00", "\ufffd")
		return shorten(v), len(v), nil
	}
	return "", 0, fmt.Errorf("a %T is neither text nor number", v)
}

// shorten cuts a text to what a field holds, at the end of a character, and marks it.
func shorten(v string) string {
	if len(v) <= MostText {
		return v
	}
	const mark = "…"
	end := MostText - len(mark)
	for !utf8.RuneStart(v[end]) {
		end--
	}
	return v[:end] + mark
}

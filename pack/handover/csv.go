package handover

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkt"

	"groundsheet/tiles/words"
)

// writeCSV writes finds as RFC 4180 with a byte order mark, by which spreadsheets know
// UTF-8. Places stand in degrees, in the system that was asked for, and as a whole in
// WKT.
func writeCSV(finds []Find, g Ground) ([]byte, error) {
	fields := Fields()
	head := []string{"latitude", "longitude"}
	if !g.degrees() {
		head = append(head, "easting", "northing")
	}
	for _, f := range fields {
		head = append(head, f.Name)
	}
	out := bytes.NewBufferString("\ufeff")
	w := csv.NewWriter(out)
	w.UseCRLF = true
	if err := w.Write(append(head, "shape")); err != nil {
		return nil, err
	}
	for _, f := range finds {
		placed, err := g.place(f)
		if err != nil {
			return nil, err
		}
		row := pair(f.Geometry, true, 9)
		if !g.degrees() {
			row = append(row, pair(placed, false, 4)...)
		}
		for _, v := range f.values(fields) {
			row = append(row, cell(v))
		}
		shape := ""
		if placed != nil {
			shape = wkt.MarshalString(placed)
		}
		if err := w.Write(append(row, shape)); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

// pair is the two numbers of a point, the second one first where turned; empty for all
// else.
func pair(g orb.Geometry, turned bool, decimals int) []string {
	p, ok := g.(orb.Point)
	if !ok {
		return []string{"", ""}
	}
	if turned {
		p[0], p[1] = p[1], p[0]
	}
	return []string{decimal(p[0], decimals), decimal(p[1], decimals)}
}

func decimal(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }

// plainNumber writes a number with the digits that it has.
func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// formula finds a text that a spreadsheet takes for a formula: by its first character,
// also a wide one (OWASP, "CSV Injection").
var formula = regexp.MustCompile(`^[=+\-@\t\r\n＝＋－＠]`)

// cell is a value as a spreadsheet may hold it: a text that it would take for a formula
// has an apostrophe before it.
func cell(v any) string {
	switch v := v.(type) {
	case float64:
		return plainNumber(v)
	case string:
		if v = plainText(v); formula.MatchString(v) {
			return "'" + v
		}
		return v
	}
	return ""
}

var lineEnds = strings.NewReplacer("\r\n", "\n", "\r", "\n")

var line = regexp.MustCompile(`[^\n\t]+`)

// plainText spells out what acts on a screen, but for line ends and tabs.
func plainText(s string) string {
	s = lineEnds.Replace(s)
	return line.ReplaceAllStringFunc(s, words.EscapeControls)
}

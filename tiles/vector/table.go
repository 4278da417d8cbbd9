package vector

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"groundsheet/tiles/geojson"
)

// table is a text table with its header (RFC 4180, and what programs make of
// it: semicolons or tabs, other line ends, bare quotes for seconds of arc).
type table struct {
	header         []string
	rows           []tableRow
	lat, lon, part int // columns; part is -1 when there is none
	blank          int // rows of nothing but blanks
	notes          []string
}

type tableRow struct {
	line  int
	cells []string
}

const nameColumns = "name the columns latitude and longitude (or lat and lon, y and x) in the first line"

// openTable reads a table with named columns for latitude and longitude.
func openTable(data []byte) (*table, error) {
	t := &table{}
	text := t.text(data)
	comma, err := t.columns(text)
	if err != nil {
		return nil, err
	}
	return t, t.readAny(text, comma)
}

// text gives the characters of the file, and notes what had to be assumed.
func (t *table) text(data []byte) string {
	text := string(withoutMark(data))
	if !utf8.ValidString(text) {
		from, _ := charset("windows-1252")
		text = decode(from, []byte(text))
		t.notes = append(t.notes, "The text is not UTF-8; it was read as windows-1252.")
	}
	return text
}

// readAny reads the rows, with quotes as the standard has them or bare.
func (t *table) readAny(text string, comma rune) error {
	err := t.read(text, comma, false)
	var syntax *csv.ParseError
	if errors.As(err, &syntax) && (errors.Is(err, csv.ErrBareQuote) || errors.Is(err, csv.ErrQuote)) {
		err = t.read(text, comma, true) // 40°00'44.3" is not quoted, only seconds
	}
	if errors.As(err, &syntax) {
		return fault(RuleTable, fmt.Sprintf("line %d", syntax.Line), "the table cannot be read: "+syntax.Err.Error(), "export the table as CSV again")
	}
	return err
}

// columns finds the divider with which the first line names the coordinates.
func (t *table) columns(text string) (rune, error) {
	var widest []string
	for _, comma := range []rune{',', ';', '\t'} {
		header, _, err := newRows(text, comma, true).next()
		var limit *Fault
		if errors.As(err, &limit) {
			return 0, err
		}
		if err != nil {
			continue
		}
		if len(header) > len(widest) {
			widest = header
		}
		lat, lon, ambiguous := coordinateColumns(header)
		if ambiguous != "" {
			return 0, fault(RuleTable, "line 1", "more than one column for the "+ambiguous+": "+quote(strings.Join(header, ", ")), "keep one")
		}
		if lat >= 0 && lon >= 0 {
			t.lat, t.lon, t.header = lat, lon, header
			t.part = -1
			for _, name := range []string{"part", "ring", "id"} {
				if i := column(header, name); i >= 0 && t.part < 0 {
					t.part = i
				}
			}
			return comma, nil
		}
	}
	const most = 300
	names := strings.Join(widest, ", ")
	if len(names) > most {
		names = strings.ToValidUTF8(names[:most], "") + "…"
	}
	return 0, fault(RuleTable, "line 1", fmt.Sprintf("no columns for latitude and longitude; the header is %q", names), nameColumns)
}

func plainColumn(name string) string { return strings.ToLower(strings.TrimSpace(name)) }

func column(header []string, names ...string) int {
	return slices.IndexFunc(header, func(s string) bool { return slices.Contains(names, plainColumn(s)) })
}

// coordinateColumns prefers named angles to y and x.
func coordinateColumns(header []string) (lat, lon int, ambiguous string) {
	find := func(axis string, sets ...[]string) int {
		for _, names := range sets {
			if i := column(header, names...); i >= 0 {
				if column(header[i+1:], names...) >= 0 {
					ambiguous = axis
				}
				return i
			}
		}
		return -1
	}
	lat = find("latitude", []string{"lat", "latitude"}, []string{"y"})
	lon = find("longitude", []string{"lon", "long", "lng", "longitude"}, []string{"x"})
	return lat, lon, ambiguous
}

// read reads the rows under the header. With lazy quotes a field that was
// never closed would swallow the rest, so none may then run over a line end.
func (t *table) read(text string, comma rune, lazy bool) error {
	t.rows, t.blank = nil, 0
	r := newRows(text, comma, lazy)
	for first := true; ; first = false {
		cells, line, err := r.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch {
		case lazy && slices.ContainsFunc(cells, func(s string) bool { return strings.Contains(s, "\n") }):
			return fault(RuleTable, fmt.Sprintf("line %d", line), "a quote that is opened and not closed in its line", "export the table as CSV again")
		case first:
			continue
		case strings.TrimSpace(strings.Join(cells, "")) == "":
			t.blank++
			continue
		case len(t.rows) == geojson.MaxPositions:
			return fault(geojson.RuleSize, fmt.Sprintf("line %d", line), fmt.Sprintf("more than %d positions", geojson.MaxPositions), "split the table")
		}
		t.rows = append(t.rows, tableRow{line, cells})
	}
}

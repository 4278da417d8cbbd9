package vector

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"groundsheet/tiles/geojson"
)

// Limits of tables, the project's own choice, no source: far beyond what a
// locator or an office exports, and little to hold.
const (
	maxRow     = 1 << 20   // bytes of one row
	maxColumns = 1_000     // of one row
	maxCells   = 5_000_000 // of one table
)

// rows reads a table row by row without ever holding more than one long row.
type rows struct {
	*csv.Reader
	text  string
	since *sinceRow
	cells int
}

// sinceRow lets a reader have no more than a row and what is read ahead of it.
type sinceRow struct {
	io.Reader
	bytes int
}

var errLongRow = errors.New("a long row")

func (s *sinceRow) Read(p []byte) (int, error) {
	if s.bytes > maxRow {
		return 0, errLongRow
	}
	n, err := s.Reader.Read(p)
	s.bytes += n
	return n, err
}

func newRows(text string, comma rune, lazy bool) *rows {
	since := &sinceRow{Reader: strings.NewReader(text)}
	r := &rows{Reader: csv.NewReader(since), text: text, since: since}
	r.Comma, r.LazyQuotes, r.FieldsPerRecord = comma, lazy, -1
	return r
}

// next is one row and its line; what is beyond the limits is a [*Fault], the end
// io.EOF.
func (r *rows) next() (cells []string, line int, err error) {
	begins := r.InputOffset()
	cells, err = r.Read()
	place := func() string { return fmt.Sprintf("line %d", 1+strings.Count(r.text[:begins], "\n")) }
	r.since.bytes = 0
	switch r.cells += len(cells); {
	case errors.Is(err, errLongRow), err == nil && r.InputOffset()-begins > maxRow:
		return nil, 0, fault(geojson.RuleSize, place(), fmt.Sprintf("a row of more than %d bytes", maxRow),
			"look whether a quote is opened there and not closed, or leave the long column out")
	case err != nil:
		return nil, 0, err
	case len(cells) > maxColumns:
		return nil, 0, fault(geojson.RuleSize, place(), fmt.Sprintf("%d columns; %d is the most", len(cells), maxColumns), "leave out columns that are not needed")
	case r.cells > maxCells:
		return nil, 0, fault(geojson.RuleSize, place(), fmt.Sprintf("more than %d cells", maxCells), "split the table, or leave out columns that are not needed")
	}
	line, _ = r.FieldPos(0)
	return cells, line, nil
}

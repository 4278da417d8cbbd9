package vector

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/paulmach/orb"

	"groundsheet/tiles/geojson"
)

// Limits of tables, the project's own choice, no source: far beyond what a
// locator or an office exports, and little to hold.
const (
	maxRow     = 1 << 20   // bytes of one row
	maxColumns = 1_000     // of one row
	maxCells   = 5_000_000 // of one table
)

// table is a text table with its header (RFC 4180, and what programs make of
// it: semicolons or tabs, other line ends, bare quotes for seconds of arc).
type table struct {
	header []string
	rows   []Row
	notes  []string
	blank  int // rows of nothing but blanks
	first  int // line of the header

	divider rune
}

// Row is one row of a [Sheet].
type Row struct {
	Line     int // in the file, from 1
	Cells    []string
	Point    orb.Point
	Fault    string // why the row gives no place; "" = it does
	Decimals int    // of the coarser coordinate in decimal degrees; -1 where it is in another form
}

// openTable reads the cells of a table, and no place yet.
func openTable(f File) (t *table, err error) {
	t = &table{}
	text := string(withoutMark(f.Data))
	if f.How.Encoding != "" {
		if text, err = textIn(f, f.Data); err != nil {
			return nil, err
		}
	} else if !utf8.ValidString(text) {
		from, _ := charset("windows-1252")
		text = decode(from, []byte(text))
		t.notes = append(t.notes, "The text is not UTF-8; it was read as windows-1252.")
	}
	t.divider = divider(text)
	err = t.read(text, t.divider, false)
	var syntax *csv.ParseError
	if errors.As(err, &syntax) && (errors.Is(err, csv.ErrBareQuote) || errors.Is(err, csv.ErrQuote)) {
		err = t.read(text, t.divider, true) // 40°00'44.3" is not quoted, only seconds
	}
	if errors.As(err, &syntax) {
		err = refuse(RuleTable, fmt.Sprintf("line %d", syntax.Line), "the table cannot be read: "+syntax.Err.Error(),
			"export the table as CSV again")
	}
	return t, err
}

// divider is what gives the first line the most columns.
func divider(text string) (best rune) {
	best = ','
	most := 0
	for _, comma := range []rune{',', ';', '\t'} {
		if header, _, err := newRows(text, comma, true).next(); err == nil && len(header) > most {
			best, most = comma, len(header)
		}
	}
	return best
}

// read reads the header and the rows. With lazy quotes a field that was never
// closed would swallow the rest, so none may then run over a line end.
func (t *table) read(text string, comma rune, lazy bool) error {
	t.header, t.rows, t.blank = nil, nil, 0
	r := newRows(text, comma, lazy)
	for {
		cells, line, err := r.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch {
		case lazy && slices.ContainsFunc(cells, func(s string) bool { return strings.Contains(s, "\n") }):
			return refuse(RuleTable, fmt.Sprintf("line %d", line), "a quote that is opened and not closed in its line",
				"export the table as CSV again")
		case t.header == nil:
			t.header, t.first = cells, line
		case strings.TrimSpace(strings.Join(cells, "")) == "":
			t.blank++
		case len(t.rows) == geojson.MaxPositions:
			return refuse(geojson.RuleSize, fmt.Sprintf("line %d", line),
				fmt.Sprintf("more than %d positions", geojson.MaxPositions),
				"split the table")
		default:
			t.rows = append(t.rows, Row{Line: line, Cells: cells, Decimals: -1})
		}
	}
}

// locateRows finds the locateRows of each row, or says why it has none.
func (t *table) locateRows(find func(*Row)) {
	for i := range t.rows {
		row := &t.rows[i]
		if got, want := len(row.Cells), len(t.header); got != want {
			row.Fault = fmt.Sprintf("%d fields where the header has %d", got, want)
			continue
		}
		find(row)
	}
}

func plainColumn(name string) string { return strings.ToLower(strings.TrimSpace(name)) }

// column finds a column by the names it usually has; -1 when there is none.
func (t *table) column(names ...string) int {
	return slices.IndexFunc(t.header, func(s string) bool { return slices.Contains(names, plainColumn(s)) })
}

// coordinate finds the column of a coordinate by its stated name, or else by
// the names it usually has, of which only one may occur; -1 when there is none.
func (t *table) coordinate(axis, stated string, names ...string) (int, error) {
	if stated != "" {
		if i := t.column(plainColumn(stated)); i >= 0 {
			return i, nil
		}
		return -1, t.wrongHeader("there is no column "+quote(stated), "fix the columns of the job's [[overlay]]")
	}
	i := t.column(names...)
	if i >= 0 && (&table{header: t.header[i+1:]}).column(names...) >= 0 {
		return -1, t.wrongHeader("more than one column for the "+axis, "keep one, or say in the job which one it is")
	}
	return i, nil
}

// wrongHeader is a fault of the first line, which it quotes.
func (t *table) wrongHeader(detail, remedy string) error {
	const most = 300
	names := strings.Join(t.header, ", ")
	if len(names) > most {
		names = strings.ToValidUTF8(names[:most], "") + "…"
	}
	return refuse(RuleTable, "line 1", fmt.Sprintf("%s; the header is %q", detail, names), remedy)
}

// rows reads a table row by row without ever holding more than one long row.
type rows struct {
	*csv.Reader
	text  string
	since *rowLimit
	cells int
}

// rowLimit limits a reader to one row and its read-ahead.
type rowLimit struct {
	io.Reader
	bytes int
}

var errLongRow = errors.New("a long row")

func (s *rowLimit) Read(p []byte) (int, error) {
	if s.bytes > maxRow {
		return 0, errLongRow
	}
	n, err := s.Reader.Read(p)
	s.bytes += n
	return n, err
}

func newRows(text string, comma rune, lazy bool) *rows {
	since := &rowLimit{Reader: strings.NewReader(text)}
	r := &rows{Reader: csv.NewReader(since), text: text, since: since}
	r.Comma, r.LazyQuotes, r.FieldsPerRecord = comma, lazy, -1
	return r
}

// next is one row and its line. What is beyond the limits is a [*fault.Fault]; the
// end is io.EOF.
func (r *rows) next() (cells []string, line int, err error) {
	begins := r.InputOffset()
	cells, err = r.Read()
	tooLarge := func(detail, remedy string) ([]string, int, error) {
		return nil, 0, refuse(geojson.RuleSize, fmt.Sprintf("line %d", 1+strings.Count(r.text[:begins], "\n")),
			detail, remedy)
	}
	r.since.bytes = 0
	switch r.cells += len(cells); {
	case errors.Is(err, errLongRow), err == nil && r.InputOffset()-begins > maxRow:
		return tooLarge(fmt.Sprintf("a row of more than %d bytes", maxRow),
			"look whether a quote is opened there and not closed, or leave the long column out")
	case err != nil:
		return nil, 0, err
	case len(cells) > maxColumns:
		return tooLarge(fmt.Sprintf("%d columns; %d is the most", len(cells), maxColumns),
			"leave out columns that are not needed")
	case r.cells > maxCells:
		return tooLarge(fmt.Sprintf("more than %d cells", maxCells),
			"split the table, or leave out columns that are not needed")
	}
	line, _ = r.FieldPos(0)
	return cells, line, nil
}

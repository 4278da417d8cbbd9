package intake

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"groundsheet/pack/record"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// table proposes how a table is read.
func (p *proposer) table() {
	p.out.Format = "CSV"
	s, err := vector.OpenSheet(p.file)
	if err != nil {
		p.fail(err)
		return
	}
	p.text(s)
	s = p.header(s)
	p.decimal(s)
	p.out.Rows = len(s.Rows)
	for _, row := range s.Rows[:min(len(s.Rows), firstRows)] {
		p.out.First = append(p.out.First, Row{row.Line, row.Cells})
	}
	l, whole := p.placeColumns(s)
	p.columns(s, l)
	values := func(field string) []string { return cellsOf(s, slices.Index(s.Header, field)) }
	p.utility(values, nil)
	if whole = p.askPlace(s, l, whole); whole {
		whole = p.system(s, l)
	}
	p.lengths(values)
	if p.out.meta.EPSG != 0 {
		s, err = p.reopened()
		p.fail(err)
		p.systemDatum()
	} else if !p.asks("epsg") { // the datum comes with the system
		p.datum(p.datumInTable(s, l))
	}
	p.rest()
	p.measure()
	if whole {
		p.readTable(s, l)
	}
}

// text tells how the bytes were taken for cells.
func (p *proposer) text(s vector.Sheet) {
	name := map[rune]string{',': words.Say("intake.comma"), ';': words.Say("intake.semicolon"), '\t': words.Say("intake.tab")}[s.Divider]
	p.told("divider", words.Say("intake.divider"), name, Fits, words.Say("intake.divider_why", "n", len(s.Header)))
	p.encoding(utf8.Valid(p.file.Data))
}

// header asks about a first line that has numbers where names would stand.
func (p *proposer) header(s vector.Sheet) vector.Sheet {
	numbers := 0
	for _, name := range s.Header {
		if _, ok := plainNumber(name); ok {
			numbers++
		}
		if meaning, _ := record.ColumnMeaning(name); meaning != "" || placeWord(name) != "" {
			return s
		}
	}
	if numbers < 2 {
		return s
	}
	i := p.add(Item{Key: "no_header", Name: words.Say("intake.no_header"), Value: "yes", Sure: Fits, Why: words.Say("intake.no_header_why", "n", numbers),
		Choices: []Choice{{"yes", words.Say("intake.first_is_row")}, {"no", words.Say("intake.first_is_names")}}})
	if i.Value != "yes" {
		return s
	}
	p.out.meta.NoHeader = true
	return s.WithoutHeader()
}

var (
	withComma  = regexp.MustCompile(`^\s*[-+]?\d+,\d+\s*$`)
	withPoint  = regexp.MustCompile(`^\s*[-+]?\d+\.\d+\s*$`)
	thousandth = regexp.MustCompile(`^\s*[-+]?\d{1,3},\d{3}\s*$`)
)

// decimal asks about commas in numbers.
func (p *proposer) decimal(s vector.Sheet) {
	commas, points, doubtful := 0, 0, 0
	for _, row := range s.Rows {
		for _, cell := range row.Cells {
			switch {
			case withPoint.MatchString(cell):
				points++
			case thousandth.MatchString(cell):
				commas, doubtful = commas+1, doubtful+1
			case withComma.MatchString(cell):
				commas++
			}
		}
	}
	if commas == 0 {
		return
	}
	i := Item{Key: "decimal", Name: words.Say("intake.decimal"), Sure: Unknown, Must: true,
		Why:     words.Say("intake.decimal_both", "commas", commas, "points", points),
		Choices: []Choice{{",", words.Say("intake.decimal_comma")}, {".", words.Say("intake.decimal_point")}}}
	if points == 0 && doubtful < commas {
		i.Value, i.Sure, i.Why = ",", Fits, words.Say("intake.decimal_why", "n", commas)
	}
	if p.add(i).Value == "," {
		p.out.meta.Decimal = ","
	}
}

func cellsOf(s vector.Sheet, column int) (all []string) {
	for _, row := range s.Rows {
		if column >= 0 && column < len(row.Cells) && strings.TrimSpace(row.Cells[column]) != "" {
			all = append(all, strings.TrimSpace(row.Cells[column]))
		}
	}
	return all
}

// columns lists the columns with what each is taken for.
func (p *proposer) columns(s vector.Sheet, l located) {
	for i, name := range s.Header {
		cells := cellsOf(s, i)
		c := Column{Name: name, Samples: cells[:min(len(cells), 3)]}
		for meaning, at := range l.columns {
			if at == i {
				c.Meaning, c.Sure, c.Why = meaning, l.sure, l.why
			}
		}
		p.out.Columns = append(p.out.Columns, c)
	}
	p.meanings()
	if l.sure == Fits && l.whole() {
		for _, meaning := range slices.Sorted(maps.Keys(l.columns)) {
			p.add(Item{Key: "column." + meaning, Name: words.Say("intake.column", "meaning", meaning), Value: s.Header[l.columns[meaning]], Sure: Fits, Why: l.why,
				Choices: p.columnChoices(false)})
		}
	}
}

// askPlace asks for the columns of the place where they were not found.
func (p *proposer) askPlace(s vector.Sheet, l located, whole bool) bool {
	if !whole {
		form := p.add(Item{Key: "place", Name: words.Say("intake.place"), Sure: Unknown, Must: true, Why: words.Say("intake.place_why"),
			Choices: []Choice{{"degrees", words.Say("intake.place_degrees")}, {"grid", words.Say("intake.place_grid")}}})
		both := map[string][]string{"degrees": {"latitude", "longitude"}, "grid": {"easting", "northing"}}[form.Value]
		for _, meaning := range both {
			p.add(Item{Key: "column." + meaning, Name: words.Say("intake.column", "meaning", meaning), Sure: Unknown, Must: true,
				Why: words.Say("intake.place_why"), Choices: p.columnChoices(false)})
		}
		return false
	}
	names := map[string]string{}
	for meaning, i := range l.columns {
		names[meaning] = s.Header[i]
	}
	usual, err := s.Locate(p.withZone(vector.Positions{}))
	if own, ownErr := s.Locate(p.withZone(positionsOf(s, l.columns))); err != nil || ownErr != nil || !slices.Equal(usual.Used, own.Used) {
		maps.Copy(p.out.meta.Columns, names)
	}
	return true
}

// withZone is any zone where none is stated: which columns are meant does not depend on it.
func (p *proposer) withZone(at vector.Positions) vector.Positions {
	if at.Zone == "" && p.out.meta.EPSG == 0 {
		at.UTM, at.Unit = "1N", 1
	}
	return at
}

// reopened is the table again, with the system that has been settled meanwhile.
func (p *proposer) reopened() (vector.Sheet, error) {
	s, err := vector.OpenSheet(p.file)
	if p.out.meta.NoHeader {
		s = s.WithoutHeader()
	}
	return s, err
}

// readTable reads the table as it is proposed, and keeps what can be drawn.
func (p *proposer) readTable(s vector.Sheet, l located) {
	unit, err := p.out.meta.CoordinateUnit()
	if err != nil {
		p.fail(err)
		return
	}
	at := positionsOf(s, l.columns)
	at.UTM, at.Unit, at.Comma = p.out.meta.UTMZone, unit, p.out.meta.Decimal == ","
	if s, err = s.Locate(at); err != nil {
		p.fail(err)
		return
	}
	p.points(s)
	if p.lacksUnit() {
		p.unreadItem()
		return
	}
	o, _, err := Read(p.file, p.provisional(), "1")
	if err != nil { // the rows say why, where it is they
		p.fail(err)
		return
	}
	p.out.Unread = nil
	for _, f := range o.Findings {
		if f.Kind == "row" {
			p.out.Unread = append(p.out.Unread, record.NewFinding("row", record.Fault, p.out.File, f.Line, bareReason(f.Detail)))
		}
	}
	p.unreadItem()
	p.take(o)
}

// lacksUnit reports whether a unit still has to be answered.
func (p *proposer) lacksUnit() bool {
	return slices.ContainsFunc(p.out.Open(), func(i Item) bool { return strings.HasPrefix(i.Key, "units.") })
}

// asks reports whether an item must still be answered.
func (p *proposer) asks(key string) bool {
	return slices.ContainsFunc(p.out.Open(), func(i Item) bool { return i.Key == key })
}

func (p *proposer) columnChoices(none bool) (all []Choice) {
	if none {
		all = append(all, Choice{"", words.Say("intake.no_column")})
	}
	for _, c := range p.out.Columns {
		text := c.Name
		if len(c.Samples) > 0 {
			text = fmt.Sprintf("%s (%s, …)", c.Name, c.Samples[0])
		}
		all = append(all, Choice{c.Name, text})
	}
	return all
}

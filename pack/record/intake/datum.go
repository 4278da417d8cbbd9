package intake

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/vector"
	"groundsheet/tiles/words"
)

// notKnown is the answer that nobody knows the datum.
const notKnown = "not known"

// datums are those that can be answered.
var datums = []string{"WGS 84", "NAD83(2011)", "NAD83", "NAD27", notKnown}

// datumNames find a datum in a column's name or its cells.
var datumNames = []struct {
	name *regexp.Regexp
	is   string
}{
	{regexp.MustCompile(`(?i)nad[ _-]?(19)?83[ _]?\(?2011\)?`), "NAD83(2011)"}, {regexp.MustCompile(`(?i)nad[ _-]?(19)?83`), "NAD83"},
	{regexp.MustCompile(`(?i)nad[ _-]?(19)?27`), "NAD27"}, {regexp.MustCompile(`(?i)wgs[ _-]?(19)?84`), "WGS 84"},
}

func datumIn(text string) string {
	for _, d := range datumNames {
		if d.name.MatchString(text) {
			return d.is
		}
	}
	return ""
}

// datumInTable is the datum that the names of the place's columns state, or a column
// of that name with one value.
func (p *proposer) datumInTable(s vector.Sheet, l located) (datum, why string) {
	var found []string
	for _, i := range l.columns {
		if d := datumIn(s.Header[i]); d != "" && !slices.Contains(found, d) {
			found, why = append(found, d), words.Say("intake.datum_header", "name", record.Quote(s.Header[i]))
		}
	}
	for i, name := range s.Header {
		if plain := strings.Join(record.Tokens(name), " "); plain != "datum" && plain != "horizontal datum" {
			continue
		}
		for _, cell := range cellsOf(s, i) {
			if d := datumIn(cell); d == "" {
				return "", words.Say("intake.datum_unread", "cell", record.Quote(cell))
			} else if !slices.Contains(found, d) {
				found, why = append(found, d), words.Say("intake.datum_column", "name", record.Quote(name))
			}
		}
	}
	if len(found) == 1 {
		return found[0], why
	}
	if len(found) > 1 {
		return "", words.Say("intake.datum_several", "which", words.List(found))
	}
	return "", words.Say("intake.datum_none")
}

// datum asks for the datum of coordinates that do not state it: none is assumed.
func (p *proposer) datum(stated, why string) {
	i := Item{Key: "datum", Name: words.Say("intake.datum"), Value: stated, Sure: Stated, Why: why, Must: true}
	if stated == "" {
		i.Sure = Unknown
	}
	for _, d := range datums {
		text := d
		if d == notKnown {
			text = words.Say("intake.datum_not_known")
		}
		i.Choices = append(i.Choices, Choice{d, text})
	}
	if !slices.Contains(datums, stated) && stated != "" {
		i.Choices = append(i.Choices, Choice{stated, stated})
	}
	i = p.add(i)
	if i.Value != notKnown && (i.Sure == Answered || vector.IsTable(p.file)) { // the reader takes what other files state
		p.out.meta.Datum = i.Value
	}
}

// impliedDatum tells of a datum that the format has, whatever was put in.
func (p *proposer) impliedDatum(datum string) {
	i := Item{Key: "datum", Name: words.Say("intake.datum"), Value: "", Sure: Fits, Why: words.Say("intake.datum_format", "format", p.out.Format, "datum", datum)}
	i.Choices = append(i.Choices, Choice{"", words.Say("datum.by_format", "datum", datum)})
	for _, d := range datums[:len(datums)-1] {
		i.Choices = append(i.Choices, Choice{d, d})
	}
	if i = p.add(i); i.Sure == Answered {
		p.out.meta.Datum = i.Value
	}
}

var yearInName = regexp.MustCompile(`(?:^|[^0-9])((?:19|20)\d\d)(?:[^0-9]|$)`)

// rest offers what a person may know of the whole record. Nothing of it is needed,
// and nothing is guessed: the year in a file's name may be that of its export.
func (p *proposer) rest() {
	has := func(meaning string) bool {
		return slices.ContainsFunc(p.out.Columns, func(c Column) bool { return c.Meaning == meaning })
	}
	if !has("quality_level") {
		i := Item{Key: "quality_level", Name: words.Say("intake.quality"), Sure: Unknown, Why: words.Say("intake.quality_none"),
			Choices: []Choice{{"", words.Say("intake.not_stated")}}}
		for _, level := range []string{"A", "B", "C", "D"} {
			i.Choices = append(i.Choices, Choice{level, level})
		}
		p.out.meta.QualityLevel = p.add(i).Value
	}
	recorded := Item{Key: "recorded", Name: words.Say("intake.recorded"), Sure: Unknown, Why: words.Say("intake.recorded_none")}
	if has("time") {
		recorded.Why = words.Say("intake.recorded_rows")
	} else if m := yearInName.FindStringSubmatch(filepath.Base(p.file.Name)); m != nil {
		recorded.Why += " " + words.Say("intake.recorded_name", "year", m[1])
	}
	if a := strings.TrimSpace(p.answers["recorded"]); a != "" && !record.IsDate(a) {
		recorded.Why, recorded.Must = words.Say("intake.no_date", "answer", record.Quote(a)), true
		p.out.Items = append(p.out.Items, recorded)
	} else {
		p.out.meta.Recorded = p.add(recorded).Value
	}
	p.out.meta.Owner = p.add(Item{Key: "owner", Name: words.Say("intake.owner"), Sure: Unknown, Why: words.Say("intake.optional")}).Value
	p.out.meta.Record = p.add(Item{Key: "record", Name: words.Say("intake.source"), Sure: Unknown, Why: words.Say("intake.optional")}).Value
	if !has("accuracy") {
		p.accuracy()
	}
}

func (p *proposer) accuracy() {
	i := Item{Key: "accuracy", Name: words.Say("intake.accuracy"), Sure: Unknown, Why: words.Say("intake.accuracy_none")}
	if a := strings.TrimSpace(p.answers["accuracy"]); a != "" {
		d, err := measure.ParseDistance(measure.TrimPlusMinus(a))
		if err != nil {
			i.Why, i.Must = err.Error(), true
			p.out.Items = append(p.out.Items, i)
			return
		}
		p.out.meta.Accuracy = &d
	}
	p.add(i)
}

package intake

import (
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// synonyms are names of columns that the reader itself does not take for a meaning,
// as tokens (common practice, no source). They are asked about.
var synonyms = map[string]string{
	"diameter": "size", "diam": "size", "dia": "size", "pipe size": "size", "line size": "size",
	"matl": "material", "mat": "material", "pipe material": "material", "line material": "material",
	"bury": "depth", "burial depth": "depth", "bury depth": "depth", "depth of cover": "depth", "cover depth": "depth",
	"quality": "quality_level", "sue level": "quality_level", "asce level": "quality_level", "asce ql": "quality_level",
	"survey date": "time", "date surveyed": "time", "locate date": "time", "date located": "time", "measured": "time",
	"line name": "line", "route": "line", "feature id": "label", "station": "label", "pt": "label", "operator": "owner", "surveyed by": "who", "located by": "who",
}

// meanings proposes what each column means that holds no place: as answered, by its
// name, or by a word that is not its usual name.
func (p *proposer) meanings() {
	columns := p.out.Columns
	byName := map[string][]int{} // meaning -> columns of that name
	for i, c := range columns {
		meaning, unit := record.ColumnMeaning(c.Name)
		columns[i].Unit = unit
		if c.Meaning == "" && meaning != "" {
			byName[meaning] = append(byName[meaning], i)
		}
	}
	for _, meaning := range record.Meanings() {
		answer, answered := p.answers["column."+meaning]
		at := slices.IndexFunc(columns, func(c Column) bool { return c.Name == answer })
		named := byName[meaning]
		if p.byFields && len(named) > 1 { // a field that has the very name is meant
			if exact := slices.IndexFunc(named, func(i int) bool { return readAsIs(meaning, columns[i].Name) }); exact >= 0 {
				named = named[exact : exact+1]
			}
		}
		switch {
		case answered && answer == "" && len(named) > 0:
			p.out.meta.Columns[meaning] = ""
		case answered && at >= 0:
			p.mean(at, meaning, Answered, words.Say("intake.answered"))
			p.state(meaning, columns[at].Name, named, at)
		case len(named) == 1:
			p.mean(named[0], meaning, Stated, words.Say("intake.header"))
			p.state(meaning, columns[named[0]].Name, named, named[0])
		case len(named) > 1:
			p.add(Item{Key: "column." + meaning, Name: words.Say("intake.column", "meaning", meaning), Sure: Unknown, Must: true,
				Why: words.Say("intake.column_several", "which", p.names(named)), Choices: p.columnChoices(false)})
		}
	}
	p.synonyms()
}

// synonyms asks about columns whose names are other words for a meaning that no
// column has.
func (p *proposer) synonyms() {
	for i, c := range p.out.Columns {
		meaning := synonyms[strings.Join(record.Tokens(bareName(c.Name)), " ")]
		_, answered := p.answers["column."+meaning]
		taken := slices.ContainsFunc(p.out.Columns, func(c Column) bool { return c.Meaning == meaning })
		if meaning == "" || c.Meaning != "" || taken || answered && p.answers["column."+meaning] == "" {
			continue
		}
		why := words.Say("intake.synonym", "name", record.Quote(c.Name), "meaning", meaning)
		item := p.add(Item{Key: "column." + meaning, Name: words.Say("intake.column", "meaning", meaning), Value: c.Name, Sure: Fits, Why: why,
			Choices: p.columnChoices(true)})
		if item.Value == c.Name {
			p.mean(i, meaning, item.Sure, item.Why)
			p.out.meta.Columns[meaning] = c.Name
		}
	}
}

// bareName is a name without the unit in brackets behind it.
func bareName(name string) string {
	bare, _, _ := strings.Cut(name, "(")
	return bare
}

func (p *proposer) mean(i int, meaning string, sure Sure, why string) {
	p.out.Columns[i].Meaning, p.out.Columns[i].Sure, p.out.Columns[i].Why = meaning, sure, why
}

// state writes a column into the job where the reader would not take it by itself.
func (p *proposer) state(meaning, name string, named []int, at int) {
	if len(named) != 1 || named[0] != at || p.byFields && !readAsIs(meaning, name) {
		p.out.meta.Columns[meaning] = name
	}
}

// readAsIs reports whether a field of this name is read as this without a word in
// the job: features carry meanings by exact names, depth and accuracy by a unit too.
func readAsIs(meaning, name string) bool {
	words := record.Tokens(name)
	measured := (meaning == "depth" || meaning == "accuracy") && len(words) > 0 && words[0] == meaning
	return meaning == name || meaning == "time" && name == "date" || measured
}

func (p *proposer) names(columns []int) string {
	var all []string
	for _, i := range columns {
		all = append(all, record.Quote(p.out.Columns[i].Name))
	}
	return words.List(all)
}

// measured are the meanings that need a unit, with those that can be meant.
var measured = []struct {
	meaning string
	units   []string
}{
	{"depth", []string{"ft", "in", "ft-in", "m", "cm", "mm"}}, {"accuracy", []string{"ft", "in", "m", "cm", "mm"}},
	{"frequency", []string{"Hz", "kHz"}}, {"current", []string{"mA", "A"}},
}

// lengths asks for the unit of each measured column that states none. What would be
// plausible is told, and never taken: a depth in the wrong unit looks like a depth.
func (p *proposer) lengths(values func(field string) []string) {
	for _, m := range measured {
		at := slices.IndexFunc(p.out.Columns, func(c Column) bool { return c.Meaning == m.meaning })
		if at < 0 {
			continue
		}
		c := p.out.Columns[at]
		bare := bareNumbers(values(c.Name))
		if c.Unit != "" {
			p.told("units."+m.meaning, words.Say("intake.unit", "meaning", m.meaning), c.Unit, Stated, words.Say("intake.header_unit", "name", record.Quote(c.Name)))
			continue
		}
		if len(bare) == 0 {
			continue
		}
		i := Item{Key: "units." + m.meaning, Name: words.Say("intake.unit", "meaning", m.meaning), Sure: Unknown, Must: true,
			Why: words.Say("intake.unit_none", "name", record.Quote(c.Name))}
		for _, u := range m.units {
			i.Choices = append(i.Choices, Choice{u, unitName(u)})
		}
		if m.meaning == "depth" || m.meaning == "accuracy" {
			i.Why += " " + p.asUnits(bare)
		}
		if i = p.add(i); i.Value == "" {
			continue
		}
		p.out.meta.Units[m.meaning] = i.Value
		if p.byFields && c.Name != m.meaning {
			p.out.meta.Columns[m.meaning] = c.Name
		}
	}
}

// asUnits says what the middle number would be in several units.
func (p *proposer) asUnits(bare []float64) string {
	m := slices.Sorted(slices.Values(bare))[len(bare)/2]
	in := record.LengthsIn(p.site.Units)
	return words.Say("intake.unit_as", "number", m, "feet", in(m*measure.Foot), "inches", in(m*measure.Inch), "meters", in(m))
}

// bareNumbers are the numbers without a unit among cells.
func bareNumbers(cells []string) (all []float64) {
	for _, cell := range cells {
		if v, ok := plainNumber(measure.TrimPlusMinus(cell)); ok {
			all = append(all, v)
		}
	}
	return all
}

func unitName(unit string) string {
	switch unit {
	case "ft":
		return words.Say("intake.unit_ft")
	case "in":
		return words.Say("intake.unit_in")
	case "ft-in":
		return words.Say("intake.unit_ft_in")
	case "m":
		return words.Say("intake.unit_m")
	case "us survey ft":
		return words.Say("intake.unit_survey_ft")
	}
	return unit
}

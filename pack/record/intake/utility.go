package intake

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

// trade are the words that files have for each utility of the APWA code, in lower
// case and in the singular, longer ones before those that they hold: reclaimed
// water is not water (common practice, no source).
var trade = []struct{ words, utility string }{
	{"reclaimed water", "reclaimed"}, {"recycled water", "reclaimed"}, {"reclaimed", "reclaimed"},
	{"irrigation", "reclaimed"}, {"slurry", "reclaimed"}, {"non potable", "reclaimed"}, {"nonpotable", "reclaimed"},
	{"storm water", "sewer"}, {"waste water", "sewer"}, {"stormwater", "sewer"}, {"wastewater", "sewer"},
	{"sanitary", "sewer"}, {"sewer", "sewer"}, {"sewage", "sewer"}, {"storm", "sewer"}, {"drain", "sewer"},
	{"drainage", "sewer"}, {"culvert", "sewer"}, {"force main", "sewer"}, {"forcemain", "sewer"},
	{"street light", "electric"}, {"streetlight", "electric"}, {"electric", "electric"}, {"electrical", "electric"},
	{"electricity", "electric"}, {"elec", "electric"}, {"power", "electric"}, {"lighting", "electric"}, {"kv", "electric"},
	{"cable tv", "communication"}, {"cable television", "communication"}, {"catv", "communication"},
	{"fiber", "communication"}, {"fibre", "communication"}, {"coax", "communication"},
	{"communication", "communication"}, {"comm", "communication"}, {"telecom", "communication"},
	{"telecommunication", "communication"}, {"telephone", "communication"}, {"phone", "communication"},
	{"broadband", "communication"}, {"internet", "communication"},
	{"gas", "gas"}, {"oil", "gas"}, {"steam", "gas"}, {"petroleum", "gas"}, {"propane", "gas"}, {"crude", "gas"},
	{"hydrant", "water"}, {"watermain", "water"}, {"potable", "water"}, {"water", "water"}, {"wtr", "water"},
	{"survey mark", "survey"}, {"survey control", "survey"}, {"proposed", "proposed"},
}

// codes are whole values that stand for a utility (common practice, no source). In
// longer texts they may mean anything.
var codes = map[string]string{
	"e": "electric", "el": "electric", "g": "gas", "ng": "gas", "c": "communication", "tel": "communication",
	"t": "communication", "fo": "communication", "tv": "communication", "w": "water", "wm": "water", "wl": "water",
	"s": "sewer", "ss": "sewer", "sd": "sewer", "san": "sewer", "stm": "sewer", "r": "reclaimed", "rw": "reclaimed",
}

// tokens are the words of a name: "WaterMains_2019" has water, main, 2019.
func tokens(text string) (all []string) {
	var b strings.Builder
	var before rune
	for _, r := range text {
		if unicode.IsUpper(r) && unicode.IsLower(before) {
			b.WriteByte(' ')
		}
		if unicode.IsLetter(before) != unicode.IsLetter(r) {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(r))
		before = r
	}
	for _, word := range strings.FieldsFunc(b.String(), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if bare := strings.TrimSuffix(word, "s"); len(bare) > 2 {
			word = bare
		}
		all = append(all, word)
	}
	return all
}

// utilitiesIn are the utilities that a text speaks of, in the order of the code.
func utilitiesIn(text string) (all []string) {
	if code := codes[strings.ToLower(strings.TrimSpace(text))]; code != "" {
		return []string{code}
	}
	rest := " " + strings.Join(tokens(text), " ") + " "
	for _, t := range trade {
		if strings.Contains(rest, " "+t.words+" ") {
			rest = strings.ReplaceAll(rest, " "+t.words+" ", " | ")
			if !slices.Contains(all, t.utility) {
				all = append(all, t.utility)
			}
		}
	}
	return all
}

// utilityFields are the names of fields whose values say the utility, as tokens.
var utilityFields = []string{"type", "utility", "utility type", "layer", "system", "service", "feature type", "network"}

// utility proposes what the records are: by what the rows say, else by the names of
// layers and of the file.
func (p *proposer) utility(values func(field string) []string, layers []string) {
	i := Item{Key: "utility", Name: words.Say("intake.utility"), Sure: Unknown, Must: true}
	for _, u := range record.Utilities() {
		i.Choices = append(i.Choices, Choice{u.Code, fmt.Sprintf("%s (%s)", u.Code, u.Name)})
	}
	switch by, field, several := p.utilityByField(values); {
	case by != "":
		i.Value, i.Sure, i.Why = by, Stated, words.Say("intake.utility_rows", "field", record.Quote(field))
	case several != "":
		i.Why = words.Say("intake.utility_several", "field", record.Quote(field), "which", several)
	default:
		i.Value, i.Why = utilityByName(layers, filepath.Base(p.file.Name))
		if i.Value != "" {
			i.Sure = Fits
		}
	}
	if i.Value == "" {
		var missing []string
		for _, code := range p.site.Expected {
			if !slices.Contains(p.site.Recorded, code) {
				missing = append(missing, code)
			}
		}
		if len(missing) > 0 {
			i.Why += " " + words.Say("intake.utility_missing", "n", len(missing), "which", words.List(missing))
		}
	}
	i = p.add(i)
	if _, err := record.FindUtility(i.Value); err == nil {
		p.out.meta.Utility, p.out.Utility = i.Value, i.Value
	}
}

// utilityByField finds a field of which each value speaks of one utility.
func (p *proposer) utilityByField(values func(field string) []string) (utility, field, several string) {
	for _, c := range p.out.Columns {
		if c.Meaning != "type" && !slices.Contains(utilityFields, strings.Join(tokens(c.Name), " ")) {
			continue
		}
		counts, all := map[string]int{}, true
		for _, v := range values(c.Name) {
			if its := utilitiesIn(v); len(its) == 1 {
				counts[its[0]]++
			} else {
				all = false
			}
		}
		if len(counts) == 1 && all {
			for utility = range counts {
				return utility, c.Name, ""
			}
		}
		if len(counts) > 1 {
			var parts []string
			for _, u := range record.Utilities() {
				if n := counts[u.Code]; n > 0 {
					parts = append(parts, fmt.Sprintf("%d %s", n, u.Code))
				}
			}
			return "", c.Name, words.List(parts)
		}
	}
	return "", "", ""
}

func utilityByName(layers []string, file string) (utility, why string) {
	var of, named []string
	for _, name := range layers {
		for _, its := range utilitiesIn(name) {
			if !slices.Contains(of, its) {
				of, named = append(of, its), append(named, record.Quote(name))
			}
		}
	}
	switch len(of) {
	case 0:
	case 1:
		return of[0], words.Say("intake.utility_layer", "name", named[0])
	default:
		return "", words.Say("intake.utility_two", "which", words.List(of))
	}
	switch of = utilitiesIn(strings.TrimSuffix(file, filepath.Ext(file))); len(of) {
	case 0:
		return "", words.Say("intake.utility_nothing")
	case 1:
		return of[0], words.Say("intake.utility_file")
	}
	return "", words.Say("intake.utility_two", "which", words.List(of))
}

// textsOf are the texts of a field of features that are not empty.
func textsOf(features []geojson.Feature) func(field string) []string {
	return func(field string) (all []string) {
		for _, f := range features {
			if text := record.Text(f.Properties, field); text != "" {
				all = append(all, text)
			}
		}
		return all
	}
}

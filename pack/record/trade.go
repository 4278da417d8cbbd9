package record

import (
	"slices"
	"strings"
	"unicode"
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

// Tokens are the words of a name: "WaterMains_2019" has water, main, 2019.
func Tokens(text string) (all []string) {
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

// UtilitiesIn are the utilities that a text speaks of, in the order of the code.
func UtilitiesIn(text string) (all []string) {
	if code := codes[strings.ToLower(strings.TrimSpace(text))]; code != "" {
		return []string{code}
	}
	rest := " " + strings.Join(Tokens(text), " ") + " "
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

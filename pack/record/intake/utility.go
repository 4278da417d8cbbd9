package intake

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/words"
)

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
		if c.Meaning != "type" && !slices.Contains(utilityFields, strings.Join(record.Tokens(c.Name), " ")) {
			continue
		}
		counts, all := map[string]int{}, true
		for _, v := range values(c.Name) {
			if its := record.UtilitiesIn(v); len(its) == 1 {
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
		for _, its := range record.UtilitiesIn(name) {
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
	switch of = record.UtilitiesIn(strings.TrimSuffix(file, filepath.Ext(file))); len(of) {
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

package collect

import (
	"slices"

	"groundsheet/pack/fieldbook"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// mostError is a stated error beyond which a mark is doubtful, unless another is asked for
// (the project's own choice).
const mostError = 1 * measure.Foot

// Look tells what is doubtful of marks by themselves and of the readings of one run beside
// each other, without the job's records: errors, depths, jumps. Of a
// position without an error, a recorded and an old one nothing is told. Lengths are in the units given.
func Look(marks []fieldbook.Mark, units string) (all []string) {
	d := &doubter{limit: mostError, in: record.LengthsIn(units)}
	overlays := fieldbook.Overlays(marks)
	byID := map[string]fieldbook.Mark{}
	for _, m := range marks {
		if byID[m.ID] = m; m.Kind() == "" {
			d.add(m, "not whole", words.Say("collect.not_whole", "mark", nameOf(m)))
		}
	}
	d.nothing(marks, func(fieldbook.Mark) bool { return true })
	for _, o := range overlays {
		for _, f := range o.Features {
			f.Properties = flat(f.Properties, byID[f.ID])
			d.feature(byID[f.ID], f)
		}
	}
	for _, doubt := range d.all {
		if !slices.Contains([]string{"recorded", "not live"}, doubt.Kind) {
			all = append(all, doubt.Detail)
		}
	}
	for _, f := range derive.From(overlays, nil, derive.Options{SanityOptions: record.SanityOptions{Units: units}}).Findings {
		if f.Severity != record.Note {
			all = append(all, words.Say("collect.beside", "utility", f.Where, "finding", f.Detail))
		}
	}
	return all
}

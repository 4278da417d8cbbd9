package intake

import (
	"fmt"
	"slices"
	"strings"

	"groundsheet/pack/record"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/words"
)

// Answers are what a person said, by the keys of items. Those of columns are
// "column.MEANING" with the name of the column, "" for none.
type Answers map[string]string

// keys are those of items beside "column.MEANING" and "units.MEANING".
var keys = []string{"utility", "place", "utm_zone", "coordinates_in", "epsg", "layer", "encoding", "decimal", "no_header", "datum", "quality_level", "recorded",
	"owner", "record", "accuracy", "unread", "far"}

// Check refuses answers to what is never asked: a slip of the pen must not go by.
func (a Answers) Check() error {
	meanings := slices.Concat(record.PlaceMeanings(), record.Meanings())
	for key := range a {
		kind, meaning, of := strings.Cut(key, ".")
		if !slices.Contains(keys, key) && !(of && (kind == "column" || kind == "units") && slices.Contains(meanings, meaning)) {
			return &fault.Fault{Detail: fmt.Sprintf("nothing asks for %q", key),
				Remedy: "use one of " + strings.Join(keys, ", ") + ", column.MEANING or units.MEANING"}
		}
	}
	return nil
}

// add puts an item to the others. An answer replaces what was proposed; one that
// is not among the choices is asked again.
func (p *proposer) add(i Item) Item {
	answer, answered := p.answers[i.Key]
	answer = strings.TrimSpace(answer)
	switch {
	case !answered || i.Fixed:
	case answer != "" && i.Choices != nil && !slices.ContainsFunc(i.Choices, func(c Choice) bool { return c.Value == answer }):
		i.Sure, i.Why, i.Value = Unknown, words.Say("intake.no_choice", "answer", record.Quote(answer)), ""
	case answer == "" && i.Must:
	case answer == i.Value && i.Sure == Fits:
		i.Sure, i.fits, i.Why = Answered, i.Why, words.Say("intake.confirmed", "why", i.Why)
	case answer != i.Value || i.Sure != Stated:
		i.Value, i.Sure, i.Why = answer, Answered, words.Say("intake.answered")
	}
	p.out.Items = append(p.out.Items, i)
	return i
}

// told adds what is not asked.
func (p *proposer) told(key, name, value string, sure Sure, why string) {
	p.add(Item{Key: key, Name: name, Value: value, Sure: sure, Why: why, Fixed: true})
}

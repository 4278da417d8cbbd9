package handover

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"groundsheet/pack/record"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// title is what a find is called in a list: its utility, label and depth, or what it is.
func (f Find) title() string {
	parts := []string{f.Utility}
	if label := cmp.Or(f.text("label"), f.text("size")); label != "" {
		parts = append(parts, label)
	}
	if depth := f.depth(); depth != "" {
		parts = append(parts, depth)
	} else {
		parts = append(parts, f.Kind)
	}
	return short(strings.Join(parts, ", "), 80)
}

// depth is a depth as it was typed, else in meters; "" = not stated.
func (f Find) depth() string {
	if s := f.text("depth_as_typed"); s != "" {
		return s
	}
	if m := f.number("depth_m"); m != nil {
		return decimal(*m, 2) + " m"
	}
	return ""
}

// depthShown is a depth in the job's units, always in one form; what was typed stands with
// it where that says another depth. "" = not stated.
func (f Find) depthShown(units string) string {
	m, typed := f.number("depth_m"), f.text("depth_as_typed")
	if m == nil {
		return typed
	}
	text := decimal(*m, 2) + " m"
	if units == "us" {
		text = feetInches.Replace(measure.Distance(*m).FeetInches())
	}
	if read, err := measure.ParseDistance(typed); typed != "" && (err != nil || math.Abs(read.Meters()-*m) > rounded) {
		return words.Say("handover.depth_typed", "depth", text, "typed", typed)
	}
	return text
}

var feetInches = strings.NewReplacer("′", " ft", "″", " in")

// rounded is how far a depth in whole centimeters may be from the one that was typed, in
// meters.
const rounded = 0.0051

// sentence tells a find in words, one field a line; what limits it is always told.
func (f Find) sentence() string {
	var all []string
	for i, v := range f.values(Fields()) {
		field := Fields()[i]
		if v == nil || field.Name == "hash" || field.Name == "other" {
			continue
		}
		text := spelled(v)
		if field.Unit != "" {
			text += " " + field.Unit
		}
		all = append(all, strings.ReplaceAll(strings.TrimSuffix(field.Name, "_"+strings.ToLower(field.Unit)), "_", " ")+": "+text)
	}
	for _, name := range []string{"accuracy_m", "quality_level", "method"} {
		if f.Values[name] == nil && f.Source != WorkedOut {
			all = append(all, words.Say("handover.not_stated", "what", strings.ReplaceAll(strings.TrimSuffix(name, "_m"), "_", " ")))
		}
	}
	return strings.Join(all, "\n")
}

// short is one line of a text, cut to so many characters.
func short(s string, most int) string {
	s = strings.Join(strings.Fields(plainText(s)), " ")
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// moment reads a time that is stated with its zone; a day alone is none.
func moment(s string) (string, bool) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return "", false
	}
	return t.UTC().Format("2006-01-02T15:04:05.999Z"), true
}

// letter is the letter of a utility on a drawing.
func letter(utility string) string {
	u, err := record.FindUtility(utility)
	if err != nil {
		return "?"
	}
	return u.Letter
}

// counted writes a number of things by their kinds, in the order of the color code.
func counted(finds []Find) (all []string) {
	n := map[string]int{}
	var order []string
	for _, u := range append(record.Utilities(), record.Utility{}) {
		for _, f := range finds {
			if f.Utility != u.Code {
				continue
			}
			key := fmt.Sprintf("%s, %s", cmp.Or(f.Utility, words.Say("handover.no_utility")), short(f.Kind, 40))
			if n[key]++; n[key] == 1 {
				order = append(order, key)
			}
		}
	}
	for _, key := range order {
		all = append(all, fmt.Sprintf("%s: %d", key, n[key]))
	}
	return all
}

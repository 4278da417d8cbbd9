package record

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"groundsheet/tiles/words"
)

// Table is a table of readings whose places are known already.
type Table struct {
	Header       []string
	Rows         []TableRow
	PlaceColumns []int    // columns that gave the place
	Notes        []string // what was assumed when the places were read
}

// TableFormat says how a table of readings is to be taken, where the names of its
// columns do not say it. The zero value recognises all.
type TableFormat struct {
	Columns       map[string]string // what a column means -> its name in the header, such as "depth": "D1"; see [Meanings] and [PlaceMeanings]
	Units         map[string]string // "depth" or "accuracy" -> m, cm, mm, ft, in, ft-in
	UTMZone       string            // of easting and northing, such as "13N"
	CoordinatesIn string            // unit of easting and northing; "" = metres, unless the columns' names say feet
}

// PlaceMeanings lists what a column can mean for the place.
func PlaceMeanings() []string {
	return []string{"latitude", "longitude", "easting", "northing", "zone"}
}

// CoordinateUnit is the unit of easting and northing in metres; 0 when it is
// not stated.
func (r TableFormat) CoordinateUnit() (float64, error) {
	if r.CoordinatesIn == "" {
		return 0, nil
	}
	if u, ok := findUnit(r.CoordinatesIn); ok && slices.Contains([]string{"m", "ft", "us survey ft"}, u.name) {
		return u.metres, nil
	}
	return 0, fmt.Errorf(`coordinates_in = %s: write "m", "ft" (0.3048 m) or "us survey ft" (1200/3937 m)`, Quote(r.CoordinatesIn))
}

// Places takes the columns of the place out of the others.
func (r TableFormat) Places() (rest TableFormat, places map[string]string) {
	rest, places = r, map[string]string{}
	rest.Columns = map[string]string{}
	for meaning, name := range r.Columns {
		if slices.Contains(PlaceMeanings(), meaning) {
			places[meaning] = name
		} else {
			rest.Columns[meaning] = name
		}
	}
	return rest, places
}

// Meanings lists what a column can mean, besides its place.
func Meanings() []string {
	return []string{"depth", "accuracy", "frequency", "current", "time", "line", "order", "type", "label", "note", "size", "material", "owner", "quality_level", "depth_of", "status", "kind", "who", "photo", "elevation", "vertical_datum"}
}

// usual are other names that columns have for a meaning (common practice).
func usual(name string) (meaning, unit string) {
	plain := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("_", " ", "-", " ").Replace(name)), " "))
	switch plain {
	case "line", "line id", "lineid", "line no":
		return "line", ""
	case "time", "date", "date time", "datetime", "timestamp", "recorded":
		return "time", ""
	case "note", "notes", "remark", "remarks", "comment", "comments":
		return "note", ""
	case "label", "id", "name", "point", "point id", "reading":
		return "label", ""
	case "order", "sequence", "seq", "station no":
		return "order", ""
	case "type", "utility", "utility type":
		return "type", ""
	case "quality level", "ql":
		return "quality_level", ""
	case "who", "measured by", "exposed by":
		return "who", ""
	case "vertical datum":
		return "vertical_datum", ""
	case "size", "material", "owner", "status", "kind", "photo":
		return plain, ""
	case "depth of":
		return "depth_of", ""
	}
	for _, q := range []struct{ meaning, names string }{
		{"depth", "depth|cover"}, {"accuracy", "accuracy|hacc|h acc|horizontal accuracy"},
		{"frequency", "frequency|freq\\.?"}, {"current", "current|curr\\.?|amps|amperes|amperage"}, {"elevation", "elevation|elev"},
	} {
		m := regexp.MustCompile(`^(?:` + q.names + `)(?: ?\(([^)]*)\)| (m|cm|mm|ft|in|ft in|feet|inches|hz|khz|ma|a))?$`).FindStringSubmatch(plain)
		switch {
		case m == nil:
		case m[1]+m[2] == "" && strings.HasPrefix(plain, "amp"):
			return q.meaning, "A" // the name is the unit
		default:
			return q.meaning, m[1] + m[2]
		}
	}
	return "", ""
}

// columnUse is one recognised column.
type columnUse struct {
	index int
	unit  string // as the name of the column or the job says it
}

// words say how a column was read.
func (u columnUse) words(meaning, name string) string {
	if u.unit == "" {
		return words.Say("finding.column", "meaning", meaning, "name", name)
	}
	return words.Say("finding.column_unit", "meaning", meaning, "name", name, "unit", unitWords(u.unit))
}

// unitWords is a unit as people say it.
func unitWords(unit string) string {
	switch known, _ := findUnit(unit); known.name {
	case "m":
		return words.Say("finding.unit_m")
	case "cm":
		return words.Say("finding.unit_cm")
	case "mm":
		return words.Say("finding.unit_mm")
	case "ft":
		return words.Say("finding.unit_ft")
	case "in":
		return words.Say("finding.unit_in")
	case feetInches:
		return words.Say("finding.unit_feet_inches")
	}
	for _, plain := range []string{"Hz", "kHz", "mA", "A"} { // the names of columns are read in lower case
		if strings.EqualFold(unit, plain) {
			return plain
		}
	}
	return unit
}

// recognise finds what each column means. What the job says comes first.
func recognise(t Table, how TableFormat) (map[string]columnUse, error) {
	uses := map[string]columnUse{}
	taken := map[int]bool{}
	for _, i := range t.PlaceColumns {
		taken[i] = true
	}
	for meaning, name := range how.Columns {
		if !slices.Contains(Meanings(), meaning) {
			return nil, fmt.Errorf("columns: %q is not something a column can mean: use %s", meaning, strings.Join(append(PlaceMeanings(), Meanings()...), ", "))
		}
		i := slices.IndexFunc(t.Header, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), strings.TrimSpace(name)) })
		if i < 0 {
			return nil, fmt.Errorf("columns: there is no column %s for %s; the header is %s", Quote(name), meaning, Quote(strings.Join(t.Header, ", ")))
		}
		_, unit := usual(t.Header[i])
		uses[meaning], taken[i] = columnUse{i, unit}, true
	}
	for i, name := range t.Header {
		meaning, unit := usual(name)
		before, twice := uses[meaning]
		switch {
		case meaning == "" || taken[i] || how.Columns[meaning] != "":
		case twice:
			return nil, fmt.Errorf("the columns %s and %s both seem to be the %s: say which in columns = { %s = %s }", Quote(t.Header[before.index]), Quote(name), meaning, meaning, Quote(name))
		default:
			uses[meaning], taken[i] = columnUse{i, unit}, true
		}
	}
	for meaning, unit := range how.Units {
		use, has := uses[meaning]
		if !has {
			return nil, fmt.Errorf("units: no column is the %s", meaning)
		}
		use.unit = unit
		uses[meaning] = use
	}
	return uses, nil
}

package record

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles/measure"
)

// lengthUnit is a unit that a column can be in.
type lengthUnit struct {
	name   string
	meters float64
}

// feetInches is the unit of columns such as 3-5 for 3 ft 5 in.
const feetInches = "ft-in"

// lengthUnits are the units with their spellings. The survey foot differs by two
// millionths, which no depth shows.
var lengthUnits = []struct {
	lengthUnit
	spellings []string
}{
	{lengthUnit{"m", 1}, []string{"m", "metre", "metres", "meter", "meters"}},
	{lengthUnit{"cm", 0.01}, []string{"cm"}},
	{lengthUnit{"mm", 0.001}, []string{"mm"}},
	{lengthUnit{"ft", measure.Foot}, []string{"ft", "feet", "foot", "'"}},
	{lengthUnit{"us survey ft", measure.SurveyFoot}, []string{"us survey ft", "us-ft", "ftus", "survey ft"}},
	{lengthUnit{"in", measure.Inch}, []string{"in", "inch", "inches", `"`}},
	{lengthUnit{feetInches, 0}, []string{feetInches, "ft in", "feet-inches", "ft/in"}},
}

func findUnit(text string) (lengthUnit, bool) {
	text = strings.ToLower(strings.Trim(strings.TrimSpace(text), "."))
	for _, u := range lengthUnits {
		if slices.Contains(u.spellings, text) {
			return u.lengthUnit, true
		}
	}
	return lengthUnit{}, false
}

var dashed = regexp.MustCompile(`^(\d{1,3})\s*['′’-]\s*(\d{1,2}(?:\.\d+)?(?:[ -]+\d{1,2}/\d{1,2})?)$`)

func plainNumber(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if strings.Trim(s, "0123456789+-.") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// parseLength reads a cell into meters. The cell's own unit may replace a missing
// unit of its column, but not contradict it: 3 ft 5 in = 41 in (common practice).
func parseLength(cell string, column lengthUnit) (float64, error) {
	text := strings.TrimSpace(cell)
	if v, ok := plainNumber(text); ok {
		switch {
		case v < 0:
			return 0, fmt.Errorf("%s is negative", Quote(cell))
		case column.name == "":
			return 0, fmt.Errorf(`%s has no unit: write it in the cell (3ft 5in), in the column's name ("depth (in)"), or in the job`, Quote(cell))
		case column.name == feetInches && v != 0:
			return 0, fmt.Errorf("%s in a column of feet and inches may be feet or inches: write 3ft 2in, 38in or 3-2",
				Quote(cell))
		}
		return v * column.meters, nil
	}
	if m := dashed.FindStringSubmatch(text); m != nil {
		feet, _ := strconv.ParseFloat(m[1], 64)
		inches, err := measure.ParseDistance(m[2] + " in")
		switch {
		case column.name != feetInches:
			return 0, fmt.Errorf(`%s may be feet and inches or a range: name the column's unit "ft-in", or write 3ft 5in`,
				Quote(cell))
		case err != nil:
			return 0, fmt.Errorf("%s is not feet and inches such as 3-5 or 3-5 1/2", Quote(cell))
		case inches >= 12*measure.Inch:
			return 0, fmt.Errorf("%s has 12 inches or more", Quote(cell))
		}
		return feet*measure.Foot + inches.Meters(), nil
	}
	d, err := measure.ParseDistance(text)
	if err != nil {
		return 0, fmt.Errorf("%s is not a length such as 3ft 5in, 41in, 3.4ft or 1.04m", Quote(cell))
	}
	metric := strings.HasSuffix(strings.ToLower(text), "m")
	if column.name != "" && metric != strings.HasSuffix(column.name, "m") {
		return 0, fmt.Errorf("%s has another unit than its column, which is in %s: fix one of them", Quote(cell), column.name)
	}
	return d.Meters(), nil
}

// roundLength takes off the digits that only arithmetic made: to a tenth of a micrometer.
func roundLength(meters float64) float64 { return math.Round(meters*1e7) / 1e7 }

// Quote shortens a text from a file and makes it printable.
func Quote(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

// quantity is a property that means a length. Its unit is in the property's
// name ("depth_ft") or in its text ("3ft 5in"), or it is refused.
type quantity struct {
	name string // "depth" becomes "depth_m"
	most float64
}

// plusMinus says that a sign of ± before the length changes nothing. Of a depth
// it makes an approximation, which is refused.
func (q quantity) plusMinus() bool { return q.name != "depth" }

// within says what is wrong with a length, or nil. Written is the record's own words.
func (q quantity) within(meters float64, written string) error {
	if meters >= 0 && meters <= q.most {
		return nil
	}
	most := measure.Distance(q.most)
	return fmt.Errorf("%s is not between 0 and %s (%s), so its unit may be wrong", Quote(written),
		most.In("us"), most.In("metric"))
}

func findQuantity(name string) quantity {
	return quantities[slices.IndexFunc(quantities, func(q quantity) bool { return q.name == name })]
}

// Limits catch a wrong unit: no utility that a crew looks for lies deeper than
// 100 m, and no record is useful with an accuracy worse than a kilometer
// (common practice, no source).
var quantities = []quantity{{"depth", 100}, {"accuracy", 1000}, {"depth_accuracy", 100}}

var suffixes = map[string]float64{"_m": 1, "_cm": 0.01, "_mm": 0.001, "_ft": measure.Foot, "_in": measure.Inch}

// unitNames writes "depth (ft)" as "depth_ft".
var unitNames = strings.NewReplacer(" (", "_", "(", "_", ")", "", " ", "_")

// normalize copies properties, adding "<name>_m" in meters for each quantity, and
// writes a quality level of ASCE 38 as its letter.
func normalize(in map[string]any) (map[string]any, error) {
	out := make(map[string]any, len(in)+1)
	maps.Copy(out, in)
	for _, q := range quantities {
		meters, from, err := q.find(in)
		if err != nil {
			return nil, err
		}
		if from == "" {
			continue
		}
		if err := q.within(meters, fmt.Sprint(in[from])); err != nil {
			return nil, fmt.Errorf("%s = %w", from, err)
		}
		if _, isNumber := in[from].(float64); from != q.name+"_m" || !isNumber {
			out[q.name+"_m"] = roundLength(meters)
		}
	}
	if level, ok := Level(Text(in, "quality_level")); ok {
		out["quality_level"] = level
	}
	if d, err := measure.ParseWidth(Text(in, "size")); err == nil {
		out["width_m"] = roundLength(d.Meters()) // for the map page: one reader of sizes
	}
	return out, nil
}

// find returns the value in meters and the property it came from ("" = none).
func (q quantity) find(in map[string]any) (meters float64, from string, err error) {
	for key, value := range in {
		unit, ok := q.unitOf(key)
		if !ok || value == nil || value == "" {
			continue
		}
		if from != "" {
			return 0, "", fmt.Errorf("both %q and %q are given: keep one", from, key)
		}
		if meters, err = q.read(key, value, unit); err != nil {
			return 0, "", err
		}
		from = key
	}
	return meters, from, nil
}

// unitOf reports whether a property name is this quantity, with the meters in its
// unit; 0 when the unit has to be in the text.
func (q quantity) unitOf(key string) (float64, bool) {
	if at := strings.TrimSpace(key); len(at) < len(q.name) || !strings.EqualFold(at[:len(q.name)], q.name) {
		return 0, false // most properties: spare the work
	}
	low := unitNames.Replace(strings.ToLower(strings.TrimSpace(key)))
	if low == q.name {
		return 0, true
	}
	meters, ok := suffixes[strings.TrimPrefix(low, q.name)]
	return meters, ok
}

func (q quantity) read(key string, value any, unit float64) (float64, error) {
	number, isNumber := value.(float64)
	switch {
	case isNumber && unit > 0:
		return number * unit, nil
	case isNumber:
		return 0, fmt.Errorf("%s = %v has no unit: name it %s_ft, %s_in or %s_m, or write text such as \"3ft 5in\"",
			key, value, q.name, q.name, q.name)
	}
	text, isText := value.(string)
	if !isText {
		return 0, fmt.Errorf("%s = %v is neither a number nor a text with a unit", key, value)
	}
	if q.plusMinus() {
		text = measure.TrimPlusMinus(text)
	}
	if unit > 0 { // the name states the unit; the text may not state another
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil {
			return 0, fmt.Errorf("%s = %q: the name says the unit, so only a number can follow; name it %s to write the unit in the text", key, text, q.name)
		}
		return v * unit, nil
	}
	d, err := measure.ParseDistance(text)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", key, err)
	}
	return d.Meters(), nil
}

package record

import (
	"fmt"
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
			return 0, fmt.Errorf("%s in a column of feet and inches may be feet or inches: write 3ft 2in, 38in or 3-2", Quote(cell))
		}
		return v * column.meters, nil
	}
	if m := dashed.FindStringSubmatch(text); m != nil {
		feet, _ := strconv.ParseFloat(m[1], 64)
		inches, err := measure.ParseDistance(m[2] + " in")
		switch {
		case column.name != feetInches:
			return 0, fmt.Errorf(`%s may be feet and inches or a range: name the column's unit "ft-in", or write 3ft 5in`, Quote(cell))
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

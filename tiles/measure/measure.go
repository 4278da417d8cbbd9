// Package measure reads and writes the quantities people type: distances
// ("50ft", "24in", "15m", "0.5mi"), sizes ("2GB") and ages ("90d"). Inside the program distances are meters, sizes bytes.
package measure

import (
	"cmp"
	"encoding"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Foot and Inch are the international foot and inch, in meters (NIST SP 811:
// 1 ft = 0.3048 m exactly since 1959).
const (
	Foot = 0.3048
	Inch = Foot / 12
	Mile = 5280 * Foot
)

// SurveyFoot is the US survey foot in meters, 1200/3937 (NIST: superseded by
// the international foot since 2023-01-01, 85 FR 62698). It is two millionths
// longer: 4 ft in 2,000,000 ft.
const SurveyFoot = 1200.0 / 3937

// Distance is a length in meters. It reads and writes text with a unit.
type Distance float64

// Size is a number of bytes. It reads and writes text with a unit.
type Size int64

// Age is a span of time. It reads and writes text with a unit; a day is 24 hours, a
// year 365.25 days.
type Age time.Duration

var (
	_ encoding.TextUnmarshaler = (*Distance)(nil)
	_ encoding.TextUnmarshaler = (*Size)(nil)
	_ encoding.TextUnmarshaler = (*Age)(nil)
)

type unit struct {
	name string
	of   float64
}

var (
	distances = []unit{{"ft", Foot}, {"in", Inch}, {"mi", Mile}, {"yd", 3 * Foot}, {"km", 1000},
		{"cm", 0.01}, {"mm", 0.001}, {"m", 1}}
	sizes = []unit{{"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}, {"KB", 1e3}, {"B", 1}}
	ages  = []unit{{"y", 365.25 * 86400}, {"w", 7 * 86400}, {"d", 86400}, {"h", 3600}, {"min", 60}, {"s", 1}}
)

// ParseDistance reads a length such as "50ft" or "15 m" into meters. A number
// without a unit is refused: feet and meters must never be guessed.
//
// Feet and inches can be combined: "3ft 5in", 3'5", 3'-5 1/2". Fractions
// are those of a tape, halves to sixty-fourths: "1/2 ft", "5-1/2 in".
func ParseDistance(s string) (Distance, error) {
	if feet, inches, ok := splitFeet(s); ok {
		return whole(feet*Foot + inches*Inch), nil
	}
	v, err := parse("distance", strings.ToLower(fractions.Replace(s)), distances, `"50ft", "24in", "15m", "0.5mi"`)
	return whole(v), err
}

// TrimPlusMinus takes the sign away that people write before an accuracy:
// "± 2 ft" and "+/- 2 ft" are 2 ft.
func TrimPlusMinus(s string) string { return plusMinus.ReplaceAllString(s, "") }

var (
	marks = strings.NewReplacer("''", `"`, "′", "'", "’", "'", "″", `"`, "”", `"`, "feet", "'",
		"ft", "'", "inches", `"`, "in", `"`)
	plusMinus = regexp.MustCompile(`^\s*(?:±|\+\s*/\s*[-−–])\s*`)
	fractions = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8",
		"⅝", " 5/8", "⅞", " 7/8", "⁄", "/")
	fraction = regexp.MustCompile(`^(?:(\d+)(?:\s*-\s*|\s+))?(\d+)\s*/\s*(2|4|8|16|32|64)$`)
)

// decimal reads "3", "0.75", "1/2" and "5 1/2" or "5-1/2". Other denominators
// than those of a tape are refused (the project's own choice, no source): 3/5
// may be two numbers.
func decimal(s string) (float64, error) {
	s = strings.TrimSpace(s)
	m := fraction.FindStringSubmatch(s)
	if m == nil {
		return strconv.ParseFloat(s, 64)
	}
	count, _ := strconv.ParseFloat(cmp.Or(m[1], "0"), 64)
	over, _ := strconv.ParseFloat(m[2], 64)
	under, _ := strconv.ParseFloat(m[3], 64)
	if over == 0 || over >= under {
		return 0, fmt.Errorf("%q is no fraction of a tape", s)
	}
	return count + over/under, nil
}

// whole takes away the digits that only binary arithmetic made: a nanometer is
// finer than anything here.
func whole(meters float64) Distance { return Distance(math.Round(meters*1e9) / 1e9) }

// splitFeet reads "3ft 5in", "3 ft 5 in", 3'5", 3' and 5" into feet and inches.
func splitFeet(s string) (feet, inches float64, ok bool) {
	text := marks.Replace(strings.ToLower(strings.TrimSpace(fractions.Replace(s))))
	before, after, hasFeet := strings.Cut(text, "'")
	if !hasFeet {
		before, after = "0", text
	} else if after = strings.TrimSpace(after); after != "" {
		after = strings.TrimPrefix(after, "-") // 3'-5" as drawings have it
	}
	feet, err := decimal(before)
	if err != nil || !(feet >= 0) || feet > 1e9 {
		return 0, 0, false
	}
	if after == "" {
		return feet, 0, hasFeet
	}
	number, hasInches := strings.CutSuffix(after, `"`)
	inches, err = decimal(number)
	if err != nil || !hasInches || !(inches >= 0) || (hasFeet && (inches >= 12 || feet != math.Trunc(feet))) {
		return 0, 0, false
	}
	return feet, inches, inches <= 1e9
}

func parse(what, s string, units []unit, examples string) (float64, error) {
	text := strings.TrimSpace(s)
	for _, u := range units {
		number, ok := strings.CutSuffix(text, u.name)
		if !ok {
			continue
		}
		v, err := decimal(number)
		if err != nil {
			continue
		}
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return 0, fmt.Errorf("%s %q: must be a number from 0 up", what, s)
		}
		return v * u.of, nil
	}
	if v, err := decimal(text); err == nil && v >= 0 && !math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q has no unit: write %s", text, withUnits(text, units))
	}
	return 0, fmt.Errorf("%s %q: want a number with a unit, such as %s", what, s, examples)
}

// withUnits is a number with each of the units that are most often meant.
func withUnits(number string, units []unit) string {
	var out []string
	for _, u := range units {
		if slices.Contains([]string{"in", "ft", "m", "MB", "GB", "h", "d", "y"}, u.name) {
			out = append(out, number+u.name)
		}
	}
	return strings.Join(out[:len(out)-1], ", ") + " or " + out[len(out)-1]
}

// UnmarshalText reads a distance; see [ParseDistance].
func (d *Distance) UnmarshalText(b []byte) (err error) {
	*d, err = ParseDistance(string(b))
	return err
}

// UnmarshalJSON reads the number of meters that a distance is written as.
func (d *Distance) UnmarshalJSON(b []byte) error {
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return fmt.Errorf("distance %s: want a number of meters", b)
	}
	*d = Distance(v)
	return nil
}

// Meters is the distance as a plain number.
func (d Distance) Meters() float64 { return float64(d) }

// String gives meters, e.g. "15.24m".
func (d Distance) String() string {
	return strconv.FormatFloat(float64(d), 'f', -1, 64) + "m"
}

// Text gives the distance as it would be typed: in feet or inches for "us"
// where a short number says it, else in meters. [ParseDistance] reads it back
// to within a nanometer.
func (d Distance) Text(units string) string {
	if units == "us" {
		in := []unit{{"ft", Foot}, {"in", Inch}}
		if d >= Mile/2 {
			in = []unit{{"mi", Mile}, {"ft", Foot}}
		}
		for _, u := range in {
			v := math.Round(float64(d)/u.of*1000) / 1000
			if v > 0 && math.Abs(v*u.of-float64(d)) < 1e-9 {
				return strconv.FormatFloat(v, 'f', -1, 64) + u.name
			}
		}
	}
	return d.String()
}

// In gives the distance for people: feet and inches for "us" ("50 ft",
// "2.3 in"), meters otherwise.
func (d Distance) In(units string) string {
	m := float64(d)
	if units == "us" {
		switch {
		case m < 3*Foot:
			return trim(m/Inch) + " in"
		case m < Mile/2:
			return trim(m/Foot) + " ft"
		}
		return trim(m/Mile) + " mi"
	}
	switch {
	case m < 1:
		return trim(m*100) + " cm"
	case m < 1000:
		return trim(m) + " m"
	}
	return trim(m/1000) + " km"
}

func trim(v float64) string {
	digits := 0
	if v < 10 {
		digits = 2
	} else if v < 100 {
		digits = 1
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// FeetInches gives the distance as feet and inches to the nearest inch, e.g.
// 3′ 5″: the way depths are painted and spoken.
func (d Distance) FeetInches() string {
	inches := int64(math.Round(float64(d) / Inch))
	return fmt.Sprintf("%d′ %d″", inches/12, inches%12)
}

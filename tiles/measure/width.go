package measure

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// widest is the largest width of a line, in meters: more is a wrong unit
// (common practice, no source).
const widest = 10

var (
	amount    = `(\d+(?:\.\d+)?|\d+\s*/\s*\d+|\d+[\s-]+\d+\s*/\s*\d+)`
	inUnit    = `\s*-?\s*(inches|inch|in|"|ft|feet|foot|'|mm|cm|m)\.?`
	oneSide   = regexp.MustCompile(`^` + amount + inUnit + `(?:\s+.*)?$`)
	twoSides  = regexp.MustCompile(`^` + amount + `(?:` + inUnit + `)?\s*x\s*` + amount + inUnit + `(?:\s+.*)?$`)
	diameters = regexp.MustCompile(`^(dn|nps)\s*-?\s*` + amount + `(?:\s+.*)?$`)
	another   = regexp.MustCompile(`(?:dn|nps)\s*\d|(?:^|\s)(?:x|by|&|\+|and|in|inside|within|w/|with|plus|or|to)\s*\d|\d(?:` + inUnit + `)(?:\W|$)|[x&+,;]\s*\d|\d\s*x(?:\W|$)`)
	plainUnit = strings.NewReplacer("″", `"`, "”", `"`, "“", `"`, "′", "'", "’", "'", "×", "x", "''", `"`)
)

// ParseWidth reads the size of a line as records state it, into meters across:
// "6 in", "3/4 in", "1-1/2\"", "6-inch", "300 mm", "DN150" (millimeters), "NPS
// 6" (inches), also with the material after it ("2 in PE"). Of a bank with two
// sides ("12 in x 8 in") it is the diagonal, which no way through it exceeds.
// Nominal sizes are taken literally: many pipes are wider outside. A number
// without a unit is an error, as everywhere.
func ParseWidth(s string) (Distance, error) {
	text := plainUnit.Replace(strings.ToLower(strings.TrimSpace(fractions.Replace(s))))
	v := 0.0
	switch {
	case len(text) > 200, another.MatchString(rest(text)): // a casing or a second line may be wider
	case diameters.MatchString(text):
		m := diameters.FindStringSubmatch(text)
		v = amountOf(m[2]) * map[string]float64{"dn": 0.001, "nps": Inch}[m[1]]
	case twoSides.MatchString(text):
		m := twoSides.FindStringSubmatch(text)
		unit := lengthOf(m[4])
		first := unit
		if m[2] != "" {
			first = lengthOf(m[2])
		}
		v = math.Hypot(amountOf(m[1])*first, amountOf(m[3])*unit)
	case oneSide.MatchString(text):
		m := oneSide.FindStringSubmatch(text)
		v = amountOf(m[1]) * lengthOf(m[2])
	}
	if !(v > 0 && v <= widest) {
		return 0, fmt.Errorf(`size %q: want a length with a unit, such as "6 in", "3/4 in", "DN150" or "12 in x 8 in"`, s)
	}
	return whole(v), nil
}

// rest is what follows the first size of a text: a material, or another size.
func rest(text string) string {
	for _, form := range []*regexp.Regexp{diameters, twoSides, oneSide} {
		if m := form.FindStringSubmatchIndex(text); m != nil {
			return text[m[len(m)-1]:]
		}
	}
	return ""
}

// amountOf reads "3", "0.75", "3/4" and "1 1/2"; NaN where it divides by nothing.
func amountOf(text string) float64 {
	sum := 0.0
	for _, part := range strings.FieldsFunc(strings.ReplaceAll(strings.ReplaceAll(text, " /", "/"), "/ ", "/"),
		func(r rune) bool { return r == ' ' || r == '-' || r == '\t' }) {
		over, under, fraction := strings.Cut(part, "/")
		v, _ := strconv.ParseFloat(strings.TrimSpace(over), 64)
		if fraction {
			d, _ := strconv.ParseFloat(strings.TrimSpace(under), 64)
			v /= d
		}
		sum += v
	}
	return sum
}

func lengthOf(unit string) float64 {
	switch unit {
	case "ft", "feet", "foot", "'":
		return Foot
	case "mm":
		return 0.001
	case "cm":
		return 0.01
	case "m":
		return 1
	}
	return Inch
}

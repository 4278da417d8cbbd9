package vector

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// axis is the direction an angle counts in.
type axis struct {
	name               string
	positive, negative string // letters of the hemispheres
	most               float64
}

func latitude() axis  { return axis{"latitude", "N", "S", 90} }
func longitude() axis { return axis{"longitude", "E", "W", 180} }

// anglePattern takes decimal degrees, degrees and minutes, or degrees, minutes
// and seconds, with marks or blanks between them and a letter before or after.
var anglePattern = regexp.MustCompile(`^([NSEW])?\s*([-+])?\s*(\d{1,3}(?:\.\d+)?)(?:` +
	`(?:\s*[°ºD:]\s*|\s+)(\d{1,2}(?:\.\d+)?)(?:` +
	`(?:\s*['′’:]\s*|\s+)(\d{1,2}(?:\.\d+)?)\s*(?:"|″|”|''|′′|’’)?` +
	`|\s*['′’]?)` +
	`|\s*[°ºD]?)\s*([NSEW])?$`)

// degrees parses one coordinate as people type it; detail is its error.
func (a axis) degrees(text string) (value float64, detail string) {
	clean := strings.NewReplacer("\u00a0", " ", "\u2212", "-").Replace(strings.ToUpper(strings.TrimSpace(text)))
	m := anglePattern.FindStringSubmatch(clean)
	if m == nil {
		if text == "" {
			return 0, "no " + a.name
		}
		return 0, quote(text) + " is not a " + a.name + " in degrees"
	}
	letter := m[1] + m[6]
	switch {
	case len(letter) > 1:
		return 0, quote(text) + " has two letters"
	case letter != "" && letter != a.positive && letter != a.negative:
		return 0, quote(text) + " is not a " + a.name + ": it ends or begins with " + letter
	case letter != "" && m[2] == "-":
		return 0, quote(text) + " has both a sign and a letter"
	}
	value, detail = sexagesimal(m[3:6])
	switch {
	case detail != "":
		return 0, quote(text) + " " + detail
	case value > a.most:
		return 0, quote(text) + " is beyond the range of a " + a.name
	case m[2] == "-" || letter == a.negative:
		value = -value
	}
	return value, ""
}

// sexagesimal adds degrees, minutes and seconds; missing ones are "".
func sexagesimal(parts []string) (value float64, detail string) {
	unit := 1.0
	for i, part := range parts {
		if part == "" {
			break
		}
		v, ok := number(part)
		last := i == len(parts)-1 || parts[i+1] == ""
		switch {
		case !ok:
			return 0, "has a number that cannot be read"
		case !last && strings.Contains(part, "."):
			return 0, "has a fraction before its last number"
		case i > 0 && v >= 60:
			return 0, "has minutes or seconds of 60 or more"
		}
		value += v / unit
		unit *= 60
	}
	return value, ""
}

// number reads a plain decimal number and nothing else strconv would take:
// no hexadecimals, no underscores, no "inf" or "nan".
func number(s string) (float64, bool) {
	if s == "" || strings.Trim(s, "0123456789+-.eE") != "" || strings.ContainsAny(s, "xX_") {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

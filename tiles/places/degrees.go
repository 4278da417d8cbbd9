package places

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// part is one of the two numbers of a place.
type part struct {
	numbers  []float64 // degrees, and where stated minutes and seconds
	negative bool
	side     string // N, S, E or W; "" for none
	named    string // "LAT" or "LON" by a word before it; "" for none
}

func (p part) isLat() bool { return p.side == "N" || p.side == "S" || p.named == "LAT" }
func (p part) isLon() bool { return p.side == "E" || p.side == "W" || p.named == "LON" }

func (p part) value() float64 {
	v := 0.0
	for i, n := range p.numbers {
		v += n / math.Pow(60, float64(i))
	}
	if p.negative || p.side == "S" || p.side == "W" {
		return -v
	}
	return v
}

func (p part) wrong() error {
	switch n := len(p.numbers); {
	case n > 3:
		return fmt.Errorf("want a latitude and a longitude, such as %s", Examples)
	case p.negative && p.side != "":
		return fmt.Errorf("a minus and the letter %s say it twice: leave one away", p.side)
	}
	for i, v := range p.numbers {
		switch {
		case i < len(p.numbers)-1 && v != math.Trunc(v):
			return errors.New("only the last of degrees, minutes and seconds may have decimals")
		case i > 0 && v >= 60:
			return errors.New("minutes and seconds are less than 60")
		}
	}
	return nil
}

// normalizations are the many signs for degrees, minutes and seconds, in the order in
// which they are made one.
var normalizations = []struct {
	from *regexp.Regexp
	to   string
}{
	{regexp.MustCompile(`^GEO:`), ""},
	{regexp.MustCompile(`LATITUDE`), "LAT"}, {regexp.MustCompile(`LONGITUDE|LONG`), "LON"},
	{regexp.MustCompile(`NORTH`), "N"}, {regexp.MustCompile(`SOUTH`), "S"}, {regexp.MustCompile(`EAST`), "E"}, {regexp.MustCompile(`WEST`), "W"},
	{regexp.MustCompile(`DEGREES?|DEG\.?|[º˚]`), "°"}, {regexp.MustCompile(`MINUTES?|MIN\.?`), "′"}, {regexp.MustCompile(`SECONDS?|SEC\.?`), "″"},
	{regexp.MustCompile(`''|´´|[“”"]`), "″"}, {regexp.MustCompile("['’‘´`]"), "′"},
	{regexp.MustCompile(`(\d)\s*D([\s\d.])`), "$1°$2"}, {regexp.MustCompile(`(\d)\s*M([\s\d.NSEW])`), "$1′$2"}, {regexp.MustCompile(`(′\s*[\d.]+)\s*S(\s*[NSEW])`), "$1″$2"},
}

var (
	lettered = regexp.MustCompile(`[NSEW]`)
	hyphen   = regexp.MustCompile(`(\d)-(\d)`)
	comma    = regexp.MustCompile(`\d,\d`)
	token    = regexp.MustCompile(`LAT|LON|[NSEW]|[+-]?(?:\d+(?:\.\d+)?|\.\d+)|[°′″]|[,;/]|[:=\s]+|.`)
)

// normalize unifies signs and replaces decimal commas.
func normalize(text string) (string, error) {
	for _, e := range normalizations {
		text = e.from.ReplaceAllString(text, e.to)
	}
	if lettered.MatchString(strings.ReplaceAll(strings.ReplaceAll(text, "LAT", ""), "LON", "")) {
		text = hyphen.ReplaceAllString(text, "$1 $2") // 40-00-44.4N
		text = hyphen.ReplaceAllString(text, "$1 $2")
	}
	pointed, n := text, 0
	for ; comma.MatchString(pointed); n++ { // one at a time: digits may lie between two commas
		at := comma.FindStringIndex(pointed)[0] + 1
		pointed = pointed[:at] + "." + pointed[at+1:]
	}
	switch {
	case n < 2:
		return text, nil
	case n > 2 || strings.Contains(text, "."):
		return "", errors.New("commas stand for more than one thing here: write decimals with a point")
	}
	return pointed, nil
}

// readDegrees reads latitude and longitude with or without marks and letters.
// Latitude comes first unless letters or words say otherwise: an order is never
// guessed from the size of a number.
func readDegrees(text string) (orb.Point, bool, error) {
	bare, err := normalize(text)
	if err != nil {
		return orb.Point{}, true, err
	}
	found, before, err := parts(bare)
	if err != nil {
		return orb.Point{}, true, err
	}
	one, two, ok := pair(found, before)
	if !ok {
		return orb.Point{}, false, nil
	}
	for _, p := range []part{one, two} {
		if err := p.wrong(); err != nil {
			return orb.Point{}, true, err
		}
	}
	switch {
	case one.isLat() && two.isLat() || one.isLon() && two.isLon():
		return orb.Point{}, true, errors.New("both numbers are said to be the same: one latitude and one longitude are needed")
	case one.isLon() || two.isLat():
		one, two = two, one
	}
	return orb.Point{two.value(), one.value()}, true, nil
}

// parts cuts a text into its coordinates; before reports that letters precede
// their numbers.
func parts(text string) (found []part, before bool, err error) {
	var now part
	marks, decided := "", false
	next := func() {
		if len(now.numbers) > 0 {
			found = append(found, now)
		}
		if len(now.numbers) > 0 || now.side != "" {
			now = part{}
		}
		marks = ""
	}
	for _, t := range token.FindAllString(text, -1) {
		switch {
		case strings.Contains("N S E W", t) && strings.TrimSpace(t) != "":
			if !decided {
				before, decided = len(now.numbers) == 0, true
			}
			if before {
				next()
			}
			now.side = t
			if !before {
				next()
			}
		case t == "LAT" || t == "LON":
			next()
			now.named = t
		case strings.Contains(",;/", t):
			if len(now.numbers) > 0 {
				next()
			}
		case strings.Contains("°′″", t):
			if strings.Contains(marks, t) && len(now.numbers) > 1 { // this number begins the next coordinate
				last := now.numbers[len(now.numbers)-1]
				now.numbers = now.numbers[:len(now.numbers)-1]
				next()
				now.numbers = []float64{last}
			}
			marks += t
		case strings.Trim(t, ":= \t\n") == "":
		default:
			v, bad := strconv.ParseFloat(t, 64)
			if bad != nil {
				return nil, false, fmt.Errorf("“%s” was not understood: want a latitude and a longitude, such as %s", t, Examples)
			}
			if len(now.numbers) > 0 && (t[0] == '+' || t[0] == '-') {
				next()
			}
			now.negative = now.negative || t[0] == '-'
			now.numbers = append(now.numbers, math.Abs(v))
		}
	}
	next()
	return found, before, nil
}

// pair returns the two coordinates. Only blanks may separate them.
func pair(found []part, before bool) (one, two part, ok bool) {
	switch {
	case len(found) == 2:
		return found[0], found[1], true
	case len(found) != 1 || found[0].named != "" || len(found[0].numbers)%2 != 0:
		return one, two, false
	}
	one, two = found[0], found[0]
	half := len(one.numbers) / 2
	one.numbers, two.numbers, two.negative = one.numbers[:half], two.numbers[half:], false
	if before {
		two.side = ""
	} else {
		one.side = ""
	}
	return one, two, true
}

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
	{regexp.MustCompile(`NORTH`), "N"}, {regexp.MustCompile(`SOUTH`), "S"}, {regexp.MustCompile(`EAST`), "E"},
	{regexp.MustCompile(`WEST`), "W"},
	{regexp.MustCompile(`DEGREES?|DEG\.?|[º˚]`), "°"}, {regexp.MustCompile(`MINUTES?|MIN\.?`), "′"},
	{regexp.MustCompile(`SECONDS?|SEC\.?`), "″"},
	{regexp.MustCompile(`''|´´|[“”"]`), "″"}, {regexp.MustCompile("['’‘´`]"), "′"},
	{regexp.MustCompile(`(\d)\s*D([\s\d.])`), "$1°$2"},
	{regexp.MustCompile(`(\d)\s*M([\s\d.NSEW])`), "$1′$2"}, {regexp.MustCompile(`(′\s*[\d.]+)\s*S(\s*[NSEW])`), "$1″$2"},
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
	var c coordinateCutter
	for _, t := range token.FindAllString(text, -1) {
		switch {
		case lettered.MatchString(t) && len(t) == 1:
			c.letter(t)
		case t == "LAT" || t == "LON":
			c.end()
			c.now.named = t
		case strings.Contains(",;/", t):
			if len(c.now.numbers) > 0 {
				c.end()
			}
		case strings.Contains("°′″", t):
			c.mark(t)
		case strings.Trim(t, ":= \t\n") == "":
		default:
			v, bad := strconv.ParseFloat(t, 64)
			if bad != nil {
				return nil, false, fmt.Errorf("“%s” was not understood: want a latitude and a longitude, such as %s", t, Examples)
			}
			c.number(v, t[0])
		}
	}
	c.end()
	return c.found, c.before, nil
}

// coordinateCutter collects the tokens of a coordinate until the next begins.
type coordinateCutter struct {
	found           []part
	now             part
	marks           string // that now has
	before, decided bool   // letters precede their numbers, as the first one decides
}

func (c *coordinateCutter) end() {
	if len(c.now.numbers) > 0 {
		c.found = append(c.found, c.now)
	}
	if len(c.now.numbers) > 0 || c.now.side != "" {
		c.now = part{}
	}
	c.marks = ""
}

func (c *coordinateCutter) letter(t string) {
	if !c.decided {
		c.before, c.decided = len(c.now.numbers) == 0, true
	}
	if c.before {
		c.end()
	}
	c.now.side = t
	if !c.before {
		c.end()
	}
}

func (c *coordinateCutter) mark(t string) {
	if n := len(c.now.numbers) - 1; strings.Contains(c.marks, t) && n > 0 { // the last number begins the next coordinate
		last := c.now.numbers[n]
		c.now.numbers = c.now.numbers[:n]
		c.end()
		c.now.numbers = []float64{last}
	}
	c.marks += t
}

func (c *coordinateCutter) number(v float64, first byte) {
	if len(c.now.numbers) > 0 && (first == '+' || first == '-') {
		c.end()
	}
	c.now.negative = c.now.negative || first == '-'
	c.now.numbers = append(c.now.numbers, math.Abs(v))
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

// Package record reads what is already recorded under the ground: lines,
// readings and structures, each with its utility, age and certainty, in units
// that are named. Nothing is guessed: a depth without a unit is refused, and
// what a record does not state stays unknown.
package record

import (
	"fmt"
	"strings"
)

// Utility is a kind of facility by the APWA Uniform Color Code, an open trade
// standard. Color is what is drawn, Casing the edge that keeps it apart from
// grass and asphalt; both are "#RRGGBB".
//
// The code gives Munsell notations, not screen colors. The colors here are
// the CIE values published for it (49 CFR 172 Appendix A table 1 for red,
// ANSI Z535.1-1998 as quoted for orange; the other four from memory of the
// same federal table), adapted to D65 and cut to sRGB: approximations.
// Pink as drawn, and every letter, is common practice.
type Utility struct {
	Code   string // the word used in job.toml
	Name   string // the APWA wording, shortened
	Letter string // drawn beside the color, for those who cannot tell colors apart
	Color  string
	Casing string
}

var utilities = []Utility{
	{"electric", "electric power, lighting", "E", "#BC2221", "#FFFFFF"},
	{"gas", "gas, oil, steam, petroleum", "G", "#ECC800", "#000000"},
	{"communication", "communication, signal, cable TV, fiber", "C", "#E57800", "#000000"},
	{"water", "potable water", "W", "#005A98", "#FFFFFF"},
	{"sewer", "sewer and drain", "S", "#007453", "#FFFFFF"},
	{"reclaimed", "reclaimed water, irrigation, slurry", "R", "#9E5390", "#FFFFFF"},
	{"survey", "temporary survey mark", "T", "#FF1493", "#000000"},
	{"proposed", "proposed digging", "P", "#FFFFFF", "#000000"},
}

// Utilities lists the code in its usual order. The slice is the caller's.
func Utilities() []Utility { return append([]Utility(nil), utilities...) }

// FindUtility looks a code word up; the error lists the known ones.
func FindUtility(code string) (Utility, error) {
	words := make([]string, len(utilities))
	for i, u := range utilities {
		if u.Code == code {
			return u, nil
		}
		words[i] = u.Code
	}
	return Utility{}, fmt.Errorf("utility %q is not in the APWA color code: use one of %s", code, strings.Join(words, ", "))
}

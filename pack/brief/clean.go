package brief

import (
	"cmp"
	"strings"
	"unicode"

	"groundsheet/tiles/words"
)

// Lengths that texts from a pack are cut to, in characters.
const (
	cellText = 120 // in a table
	noteText = 500 // in a paragraph
)

// tidy makes a text from a pack fit to print: what acts on a screen is spelled
// out, line ends become blanks, marks that are not seen are taken out, and what is
// longer than most characters ends in "…".
func tidy(s string, most int) string {
	var b strings.Builder
	n, blank := 0, true
	for _, r := range words.Visible(s) {
		if unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Mn, r) && n == 0 {
			continue
		}
		if unicode.IsSpace(r) || unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp) {
			if blank {
				continue
			}
			r = ' '
		}
		blank = r == ' '
		if n++; n > most {
			return strings.TrimRight(b.String(), " ") + "…"
		}
		b.WriteRune(r)
	}
	return strings.TrimRight(b.String(), " ")
}

// stated is a text for a table; an empty one is said to be.
func stated(s string) string { return statedIn(s, cellText) }

func statedIn(s string, most int) string { return cmp.Or(tidy(s, most), words.Say("paper.not_stated")) }

func unknown(s string) string { return cmp.Or(tidy(s, cellText), words.Say("paper.unknown")) }

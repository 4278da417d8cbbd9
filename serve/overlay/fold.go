package overlay

import (
	"strings"
	"unicode"
)

// How words that were typed are compared with those of records: without case, accents,
// blanks and hyphens. The page does the same with the records it holds
// (serve/web/src/shared/list/textmatch.ts); testdata/find.json holds both to it.

// The longest text that is looked for, in characters, and the most words of it.
const (
	longestTyped = 100
	mostTyped    = 8
)

// typedWords are the words of a typed text, folded.
func typedWords(text string) (all []string) {
	if runes := []rune(text); len(runes) > longestTyped {
		text = string(runes[:longestTyped])
	}
	for word := range strings.FieldsSeq(text) {
		if word = fold(word); word != "" && len(all) < mostTyped {
			all = append(all, word)
		}
	}
	return all
}

// fold gives a text as it is compared: small letters without accents, and digits; a point
// only before a digit.
func fold(text string) string {
	var b strings.Builder
	b.Grow(len(text))
	for i, r := range text {
		switch {
		case r == '.':
			if i+1 < len(text) && text[i+1] >= '0' && text[i+1] <= '9' {
				b.WriteByte('.')
			}
		case r < unicode.MaxASCII:
			if 'A' <= r && r <= 'Z' {
				r += 'a' - 'A'
			}
			if 'a' <= r && r <= 'z' || '0' <= r && r <= '9' {
				b.WriteRune(r)
			}
		case unicode.IsLetter(r) || unicode.IsNumber(r):
			r = unicode.ToLower(r)
			if plain, accented := unaccented[r]; accented {
				b.WriteString(plain)
			} else {
				b.WriteRune(r)
			}
		}
	}
	return b.String()
}

// unaccented are the small letters of Latin-1 and Latin Extended-A that decompose
// (Unicode Character Database, canonical decomposition), and the sharp s.
var unaccented = func() map[rune]string {
	all := map[rune]string{'ß': "ss"}
	for plain, accented := range map[string]string{
		"a": "àáâãäåāăą", "c": "çćĉċč", "d": "ď", "e": "èéêëēĕėęě", "g": "ĝğġģ", "h": "ĥ", "i": "ìíîïĩīĭį",
		"j": "ĵ", "k": "ķ",
		"l": "ĺļľ", "n": "ñńņň", "o": "òóôõöōŏő", "r": "ŕŗř", "s": "śŝşš", "t": "ţť", "u": "ùúûüũūŭůűų",
		"w": "ŵ", "y": "ýÿŷ", "z": "źżž",
	} {
		for _, r := range accented {
			all[r] = plain
		}
	}
	return all
}()

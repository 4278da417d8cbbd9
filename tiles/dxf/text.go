package dxf

import (
	"regexp"
	"strconv"
	"strings"
)

// specials are the marks of plain texts.
var specials = strings.NewReplacer("%%d", "°", "%%D", "°", "%%p", "±", "%%P", "±", "%%c", "⌀", "%%C", "⌀", "%%u", "", "%%U", "", "%%o", "", "%%O", "")

func plainText(text string) string { return specials.Replace(text) }

var escaped = regexp.MustCompile(`\\U\+([0-9A-Fa-f]{4})`)

// unicodeEscapes turns \U+00B0 into its letter.
func unicodeEscapes(text string) string {
	if !strings.Contains(text, `\U+`) {
		return text
	}
	return escaped.ReplaceAllStringFunc(text, func(m string) string {
		v, _ := strconv.ParseUint(m[3:], 16, 32)
		return string(rune(v))
	})
}

// formatting is what an MTEXT says of its looks: \fArial|b0;, \H2.5;, \C1; and the
// like, up to a semicolon, or a letter alone.
var formatting = regexp.MustCompile(`\\[ACFHQTWacfhqtwp][^;\\{}]*;|\\[LlOoKkNX]|[{}]`)

// longText joins the parts of an MTEXT and takes its looks off.
func (r *reader) longText(e *record) string {
	var b strings.Builder
	const longest = 10_000
	for _, p := range e.pairs {
		if (p.code == 3 || p.code == 1) && b.Len() < longest {
			b.WriteString(p.value)
		}
	}
	text := strings.NewReplacer(`\P`, " ", `\~`, " ").Replace(b.String())
	return plainText(formatting.ReplaceAllString(text, ""))
}

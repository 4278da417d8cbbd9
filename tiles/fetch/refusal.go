package fetch

import (
	"io"
	"mime"
	"net/http"
	"regexp"
	"strings"
	"unicode"
)

const (
	refusalLength = 200     // characters of a source's own words that are told
	refusalPage   = 8 << 10 // bytes of its page that are read for them
)

var markup = regexp.MustCompile(`(?is)<(?:script|style|head)\b.*?</(?:script|style|head)>|<[^>]*>`)

// refusal is the first line of what a source says for itself when it does not
// let us in: cleaned, cut to 200 characters, without the key; "" for none.
func (r *run) refusal(resp *http.Response) string {
	kind, _, _ := mime.ParseMediaType(resp.Header.Get("Content-Type"))
	if kind != "" && !strings.HasPrefix(kind, "text/") && !strings.Contains(kind, "json") && !strings.Contains(kind, "xml") {
		return ""
	}
	page, _ := io.ReadAll(io.LimitReader(resp.Body, refusalPage)) // what came of it is enough
	r.count(func(t *Tally) { t.Received += int64(len(page)) })
	text := r.src.Redact(strings.ToValidUTF8(string(page), "")) // before anything is cut from it
	if len(page) == refusalPage {
		text = text[:max(len(text)-1<<10, 0)] // its end may be a piece of the key
	}
	for line := range strings.Lines(markup.ReplaceAllString(text, " ")) {
		line = strings.Join(strings.FieldsFunc(line, func(c rune) bool { return unicode.IsSpace(c) || !unicode.IsPrint(c) }), " ")
		if line == "" {
			continue
		}
		line = r.src.Redact(line) // markup may have stood within the key
		if cut := []rune(line); len(cut) > refusalLength {
			return string(cut[:refusalLength]) + "…"
		}
		return line
	}
	return ""
}

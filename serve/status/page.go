package status

import (
	"bytes"
	_ "embed" // the page
	"fmt"
	"html/template"
	"strings"
	"time"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

//go:embed status.html
var pageHTML string

// page is the report for people. Its template escapes everything, since packs and
// clients write parts of it.
var page = template.Must(template.New("status").Funcs(template.FuncMap{
	"say": words.Say, "receiver": receiverText, "thousands": thousands,
	"span":   func(seconds int64) string { return measure.Duration(time.Duration(seconds) * time.Second) },
	"number": func(n *int) int { return *n },
	"size":   func(bytes int64) measure.Size { return measure.Size(bytes) },
}).Parse(pageHTML))

// pageData is a report with what its template asks of it.
type pageData struct {
	report
	Units string // of lengths
}

func (r report) page(units string) (string, error) {
	var b bytes.Buffer
	err := page.Execute(&b, pageData{r, units})
	return words.EscapeControls(b.String()), err
}

// AsOf is the time of the report by this computer's clock.
func (r report) AsOf() string { return r.Now.Local().Format("2006-01-02 15:04:05 MST") }

// Ago is how long a time was before the report.
func (r report) Ago(t time.Time) string { return measure.Duration(r.Now.Sub(t)) }

// Power says whether the computer is plugged in.
func (r report) Power() string {
	switch {
	case r.PluggedIn == nil:
		return words.Say("laptop.not_told")
	case *r.PluggedIn:
		return words.Say("laptop.plugged")
	}
	return words.Say("laptop.unplugged")
}

// thousands writes 1234567 as 1,234,567.
func thousands(n int64) string {
	digits := fmt.Sprint(n)
	var b strings.Builder
	for i, c := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(c)
	}
	return b.String()
}

package serve

import (
	"bytes"
	_ "embed" // the page and its style
	"fmt"
	"html/template"
	"io"
	"net/http"
	"strings"
	"time"

	"groundsheet/serve/position"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

//go:embed status.html
var statusHTML string

//go:embed status.css
var statusStyle string

// statusPage is the report for people: one page without a script. Everything in
// it is escaped by the template, since packs and clients write parts of it.
func (s *Server) statusPage(w http.ResponseWriter, r *http.Request) {
	page, err := template.New("status").Funcs(statusWords(s.units())).Parse(statusHTML)
	var b bytes.Buffer
	if err == nil {
		err = page.Execute(&b, s.report())
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = io.WriteString(w, words.Visible(b.String())) // whoever asked went away
}

// units are those of the jobs that are served; metric where they differ.
func (s *Server) units() string {
	all := s.racks.served()
	for _, p := range all {
		if p.pack.Info.About.Units != all[0].pack.Info.About.Units {
			return "metric"
		}
	}
	if len(all) == 0 {
		return "metric"
	}
	return all[0].pack.Info.About.Units
}

// statusWords turn numbers into words with their units, lengths in those of the jobs.
func statusWords(units string) template.FuncMap {
	return template.FuncMap{
		"seconds": func(n int64) string { return span(time.Duration(n) * time.Second) },
		"within":  func(n int) string { return span(time.Duration(n) * time.Second) },
		"bytes":   func(n int64) string { return measure.Size(n).String() },
		"since":   func(then, now time.Time) string { return span(now.Sub(then)) },
		"clock":   measure.Moment,
		"number":  thousands,
		"battery": batteryWords,
		"place":   func(p positionEvent) string { return positionState(p, units) },
		"plural":  plural,
		"waiting": func(n int) string { return words.Say("verdict.waiting", "n", n) },
		"well":    func() string { return words.Say("verdict.all_ok") },
		"rest":    func(v Verdict) int { return v.Faults - len(v.First) },
		"more":    func(n int) string { return words.Say("verdict.more", "n", n) },
		"deref":   func(b *bool) bool { return *b },
	}
}

// span is a length of time in the two units that matter: "2 d 3 h", "1 h 5 min",
// "4 min", "12 s".
func span(d time.Duration) string {
	d = max(d, 0)
	switch s := int64(d.Seconds()); {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min", s/60)
	case s < 86400:
		return fmt.Sprintf("%d h %d min", s/3600, s%3600/60)
	default:
		return fmt.Sprintf("%d d %d h", s/86400, s%86400/3600)
	}
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

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

// positionState says how things stand with the receiver. Where it is stands on
// the map.
func positionState(p positionEvent, units string) string {
	words := map[position.Phase]string{
		position.Opening: "not tried yet", position.Away: "away", position.Silent: "says nothing that can be understood",
		position.Lost: "says that it has no position", position.Found: "says where it is", position.Ended: "the recording is over",
	}[p.Phase]
	if f := p.Fix; f != nil {
		words += fmt.Sprintf("; latest position %s ago, %s", span(time.Duration(f.AgeMS)*time.Millisecond), kindText(f.Kind))
		if f.Error != nil {
			words += fmt.Sprintf(", within %s at 95 %%", measure.Distance(*f.Error).In(units))
		}
		words += positionDoubt(*f)
	}
	if p.Recorded {
		words += "; a recording"
	}
	return words
}

// positionDoubt is how a position's error was found, and what speaks against it.
func positionDoubt(f fixEvent) (words string) {
	switch f.Grounds {
	case position.FromGeometry:
		words = " by a rough estimate"
	case position.OldCorrections:
		words = ", its corrections too old"
	case position.Implausible:
		words = ", the error that it states implausible"
	}
	if f.Late {
		words += ", its time and this computer's clock 10 s or more apart"
	}
	return words
}

// kindText is a kind of position as people write it: "RTK fixed".
func kindText(k position.Kind) string {
	return strings.Replace(strings.ReplaceAll(string(k), "-", " "), "rtk", "RTK", 1)
}

func batteryWords(b batteryState) string {
	words := []string{"charge not told"}
	if b.Percent != nil {
		words[0] = fmt.Sprintf("%d %%", *b.Percent)
	}
	if b.Status != "" {
		words = append(words, b.Status)
	}
	if b.RemainingS != nil {
		words = append(words, "about "+span(time.Duration(*b.RemainingS)*time.Second)+" left by the use of this moment")
	}
	return strings.Join(words, ", ")
}

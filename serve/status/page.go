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
var statusHTML string

// page is the report as HTML, lengths in units.
func (r report) page(units string) (string, error) {
	t, err := template.New("status").Parse(statusHTML)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	err = t.Execute(&b, r.view(units))
	return words.Visible(b.String()), err
}

// view is the report in words.
type view struct {
	Title, Name, Map, Again string
	AsOf, Attention         string
	Warnings                []string
	Waiting, Well           string // instead of warnings; "" = not so
	Sections                []section
}

type section struct {
	ID, Title string
	Lists     []list
	Note      string
	Events    []entry
}

// list is a list of names and what is told of each.
type list struct {
	Title string
	Rows  []row
}

type row struct {
	Name, Text string
	Loud       bool
	More       []string // lines below the text
}

type entry struct{ When, Text string }

func (r report) view(units string) view {
	v := view{
		Title: words.Say("laptop.title"), Name: words.Say("laptop.name"), Map: words.Say("laptop.map"), Again: words.Say("laptop.again"),
		AsOf:      words.Say("laptop.as_of", "time", r.Now.Local().Format("2006-01-02 15:04:05 MST"), "span", seconds(r.UptimeS)),
		Attention: words.Say("laptop.attention"), Warnings: r.Warnings,
	}
	if served, unchecked := r.count(); unchecked > 0 {
		v.Waiting = words.Say("verdict.waiting", "n", unchecked)
	} else if served > 0 {
		v.Well = words.Say("verdict.all_ok")
	}
	v.Sections = []section{r.packSection(), r.clientSection()}
	if r.Position != nil {
		v.Sections = append(v.Sections, receiverSection(*r.Position, units))
	}
	v.Sections = append(v.Sections, r.computerSection(), r.troubleSection())
	return v
}

func (r report) packSection() section {
	out := section{ID: "packs", Title: words.Say("laptop.packs")}
	for _, p := range r.Packs {
		out.Lists = append(out.Lists, p.list(r.Now))
	}
	if len(r.Packs) == 0 {
		out.Note = words.Say("laptop.no_packs")
	}
	return out
}

func (p packReport) list(now time.Time) list {
	out := list{Title: p.Name, Rows: []row{{Name: words.Say("laptop.file"), Text: p.File}}}
	if p.Name == "" {
		out.Title = p.File
	}
	state := row{Name: words.Say("laptop.state"), Text: words.Say("laptop.served")}
	if p.Trouble != "" {
		state.Text, state.Loud = p.Trouble, true
	}
	version := row{Name: words.Say("laptop.version"), Text: words.Say("laptop.none_served")}
	if p.Since == nil {
		out.Rows = append(out.Rows, state, version)
		return out
	}
	version.Text = words.Say("laptop.opened", "span", measure.Duration(now.Sub(*p.Since)))
	check := row{Name: words.Say("laptop.check"), Text: p.Verdict.String(), Loud: p.Verdict.NotFit()}
	if p.Verdict.NotFit() && len(p.Verdict.First) > 0 {
		check.More = append(check.More, p.Verdict.First[1:]...)
		if rest := p.Verdict.Faults - len(p.Verdict.First); rest > 0 {
			check.More = append(check.More, words.Say("verdict.more", "n", rest))
		}
	}
	out.Rows = append(out.Rows, state, version, check)
	return out
}

func (r report) clientSection() section {
	lately := words.Say("laptop.no_addresses")
	if n := r.Clients.Lately; n > 0 {
		lately = words.Say("laptop.addresses", "n", n, "span", seconds(r.Clients.LatestS))
	}
	return section{ID: "clients", Title: words.Say("laptop.clients"), Lists: []list{{Rows: []row{
		{Name: words.Say("laptop.lately", "span", seconds(int64(r.Clients.WithinS))), Text: lately},
		{Name: words.Say("laptop.maps"), Text: fmt.Sprint(r.Clients.Streams)},
		{Name: words.Say("laptop.tiles"), Text: thousands(r.Tiles)},
		{Name: words.Say("laptop.failed"), Text: thousands(r.Failed)},
		{Name: words.Say("laptop.memory"), Text: words.Say("laptop.memory_of", "n", r.Memory.Tiles, "size", measure.Size(r.Memory.Bytes))},
	}}}}
}

func (r report) computerSection() section {
	power := words.Say("laptop.not_told")
	if r.PluggedIn != nil {
		power = words.Say("laptop.unplugged")
		if *r.PluggedIn {
			power = words.Say("laptop.plugged")
		}
	}
	rows := []row{{Name: words.Say("laptop.power"), Text: power}}
	for _, b := range r.Batteries {
		rows = append(rows, row{Name: words.Say("laptop.battery_named", "name", b.Name), Text: batteryText(b)})
	}
	if len(r.Batteries) == 0 {
		rows = append(rows, row{Name: words.Say("laptop.battery"), Text: words.Say("laptop.not_told")})
	}
	disk := words.Say("laptop.not_told")
	if r.Disk != nil {
		disk = words.Say("laptop.disk_free", "free", measure.Size(r.Disk.FreeBytes), "size", measure.Size(r.Disk.SizeBytes))
	}
	rows = append(rows, row{Name: words.Say("laptop.disk"), Text: disk})
	if r.Process.MemoryBytes >= 0 {
		rows = append(rows, row{Name: words.Say("laptop.process"), Text: measure.Size(r.Process.MemoryBytes).String()})
	}
	return section{ID: "power", Title: words.Say("laptop.computer"), Lists: []list{{Rows: rows}}}
}

func batteryText(b batteryReport) string {
	parts := []string{words.Say("laptop.charge_unknown")}
	if b.Percent != nil {
		parts[0] = words.Say("laptop.charge", "n", *b.Percent)
	}
	if b.Status != "" {
		parts = append(parts, b.Status)
	}
	if b.RemainingS != nil {
		parts = append(parts, words.Say("laptop.remaining", "span", seconds(*b.RemainingS)))
	}
	return strings.Join(parts, ", ")
}

func (r report) troubleSection() section {
	out := section{ID: "troubles", Title: words.Say("laptop.troubles")}
	for _, t := range r.Troubles {
		ago := measure.Duration(r.Now.Sub(t.Last))
		when := words.Say("laptop.trouble", "span", ago)
		if t.Times > 1 {
			when = words.Say("laptop.trouble_again", "span", ago, "n", t.Times)
		}
		out.Events = append(out.Events, entry{when, t.Text})
	}
	if len(r.Troubles) == 0 {
		out.Note = words.Say("laptop.no_troubles")
	}
	return out
}

// seconds are a length of time as people say it.
func seconds(n int64) string { return measure.Duration(time.Duration(n) * time.Second) }

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

package status

import (
	"cmp"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/catalog"
	"groundsheet/serve/event"
	"groundsheet/serve/health"
	"groundsheet/serve/position"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// report is the status as JSON. Fields are added, never renamed.
type report struct {
	Now       time.Time        `json:"now"`
	Started   time.Time        `json:"started"`
	UptimeS   int64            `json:"uptime_s"`
	Warnings  []string         `json:"warnings"` // what somebody should act on
	Packs     []packReport     `json:"packs"`
	Clients   clientReport     `json:"clients"`
	Tiles     int64            `json:"tiles_answered"`
	Failed    int64            `json:"requests_failed"`
	Memory    memoryReport     `json:"tiles_in_memory"`
	Position  *event.Position  `json:"position"`   // as in events; null = no receiver
	PluggedIn *bool            `json:"plugged_in"` // null = unknown
	Batteries []health.Battery `json:"batteries"`
	Disk      *diskReport      `json:"disk"` // of the first pack; null = unknown
	Process   health.Process   `json:"process"`
	Guessing  *auth.Guessing   `json:"guessing"` // of join codes, as it goes on; null = none
	Troubles  []Trouble        `json:"troubles"`
}

type packReport struct {
	ID      string          `json:"id"`
	Name    string          `json:"name"`
	File    string          `json:"file"`
	Version string          `json:"version"`
	Since   *time.Time      `json:"since"` // null = nothing is served
	Trouble string          `json:"trouble"`
	Verdict catalog.Verdict `json:"verdict"`   // on this version
	Book    *Book           `json:"fieldbook"` // null = nothing was ever served there
}

type clientReport struct {
	Lately  int   `json:"lately"` // addresses of which requests came within WithinS
	WithinS int64 `json:"within_s"`
	LatestS int64 `json:"latest_s"` // seconds since the latest request
	Streams int   `json:"streams"`  // of events: maps that are open
}

type memoryReport struct {
	Tiles int   `json:"tiles"`
	Bytes int64 `json:"bytes"`
}

type diskReport struct {
	FreeBytes int64 `json:"free_bytes"`
	SizeBytes int64 `json:"size_bytes"`
}

// report describes the server at this moment.
func (m *Monitor) report() report {
	now := m.Now()
	clients, latest := m.Clients.count()
	cached, bytes := m.Tiles.Cached()
	power := health.ReadPower(m.Power)
	r := report{
		Now: now, Started: m.began, UptimeS: int64(now.Sub(m.began).Seconds()), Packs: []packReport{},
		Clients: clientReport{Lately: clients, WithinS: int64(clientPeriod.Seconds()), Streams: m.Events.Streams()},
		Tiles:   m.Tiles.Answered.Load(), Failed: m.Responder.Failed.Load(), Memory: memoryReport{cached, int64(bytes)},
		Position: m.Events.Position(), PluggedIn: power.Mains, Batteries: append([]health.Battery{}, power.Batteries...),
		Process:  health.ReadProcess(),
		Guessing: m.Guessing(), Troubles: m.Errors.latest(),
	}
	if clients > 0 {
		r.Clients.LatestS = max(0, int64(now.Sub(latest).Seconds()))
	}
	for i, p := range m.Packs.States() {
		if free, size, ok := health.Free(filepath.Dir(p.Path)); ok && i == 0 {
			r.Disk = &diskReport{free, size}
		}
		r.Packs = append(r.Packs, m.packOf(p))
	}
	r.Warnings = r.warnings(m.Packs.Unreadable())
	return r
}

func (m *Monitor) packOf(p catalog.PackState) packReport {
	out := packReport{
		ID: p.ID, Name: p.Name, File: filepath.Base(p.Path), Version: p.Version,
		Trouble: m.Errors.Redact(p.Trouble), Verdict: p.Checked(),
	}
	if p.Version != "" {
		out.Since = &p.Since
	}
	if m.Books != nil {
		out.Book = m.Books(p.ID)
	}
	return out
}

// Below these, people are warned.
const (
	lowBattery = 20                  // percent, while it is discharging
	lowDisk    = measure.Size(500e6) // bytes
)

// warnings are what somebody should act on, in words. unreadable has a line for each
// pack that cannot be read.
func (r report) warnings(unreadable []string) []string {
	all := []string{}
	for _, p := range r.Packs {
		if p.Trouble != "" {
			all = append(all, words.Say("laptop.warn_pack", "file", p.File, "what", strings.TrimSuffix(p.Trouble, ".")))
			unreadable = slices.DeleteFunc(unreadable, func(line string) bool { return strings.HasPrefix(line, p.ID+": ") })
		}
	}
	for _, p := range r.Packs {
		if p.Verdict.NotFit() {
			all = append(all, words.Say("laptop.warn_verdict", "file", p.File, "verdict", p.Verdict.String()))
		}
	}
	for _, p := range r.Packs {
		if p.Book != nil && p.Book.Trouble != "" {
			all = append(all, words.Say("laptop.warn_book", "file", p.Book.File, "what", p.Book.Trouble))
		}
	}
	for _, line := range unreadable {
		all = append(all, words.Say("laptop.warn_read", "what", line))
	}
	if p := r.Position; p != nil && (p.Phase == position.PhaseAway || p.Phase == position.PhaseSilent) {
		what := strings.TrimSuffix(cmp.Or(p.Trouble, phases[p.Phase]), ".")
		all = append(all, words.Say("laptop.warn_receiver", "source", p.Source, "what", what))
	}
	for _, b := range r.Batteries {
		if b.Percent != nil && *b.Percent <= lowBattery && b.Status == "discharging" {
			all = append(all, words.Say("laptop.warn_battery", "name", b.Name, "n", *b.Percent))
		}
	}
	if r.Guessing != nil {
		all = append(all, GuessingText(*r.Guessing, r.Now))
	}
	if r.Disk != nil && measure.Size(r.Disk.FreeBytes) < lowDisk {
		all = append(all, words.Say("laptop.warn_disk", "free", measure.Size(r.Disk.FreeBytes)))
	}
	return all
}

// GuessingText says how many codes are guessed, and from where.
func GuessingText(g auth.Guessing, now time.Time) string {
	return words.Say("door.guessing", "wrong", g.Wrong, "addresses", g.Addresses,
		"since", measure.Duration(now.Sub(g.Since)),
		"latest", measure.Duration(now.Sub(g.Latest)), "most", g.BusiestSent, "busiest", g.Busiest)
}

// Served is how many packs are served.
func (r report) Served() int { return r.count(func(packReport) bool { return true }) }

// Unchecked is how many of them are not checked yet.
func (r report) Unchecked() int {
	return r.count(func(p packReport) bool { return p.Verdict.State == catalog.Unchecked })
}

func (r report) count(match func(packReport) bool) (n int) {
	for _, p := range r.Packs {
		if p.Version != "" && match(p) {
			n++
		}
	}
	return n
}

// receiverText describes the state of the receiver. Its position is on the map only.
func receiverText(p event.Position, units string) string {
	parts := []string{phases[p.Phase]}
	if f := p.Fix; f != nil {
		age := measure.Duration(time.Duration(f.AgeMS) * time.Millisecond)
		parts[0] = words.Say("laptop.latest", "state", parts[0], "span", age, "kind", f.Kind.Text())
		parts = append(parts, errorText(*f, units)...)
	}
	if p.Recorded {
		parts = append(parts, words.Say("laptop.recording"))
	}
	return strings.Join(parts, "; ")
}

var phases = map[position.Phase]string{
	position.PhaseOpening: words.Say("laptop.opening"),
	position.PhaseSilent:  words.Say("laptop.silent"),
	position.PhaseNoFix:   words.Say("laptop.no_fix"),
	position.PhaseFix:     words.Say("laptop.fix"),
	position.PhaseEnded:   words.Say("laptop.ended"),
	position.PhaseAway:    words.Say("laptop.away"),
}

// errorText is a position's error, how it was found, and what speaks against
// it.
func errorText(f event.Fix, units string) (parts []string) {
	switch {
	case f.Error != nil && f.Grounds == position.FromHDOP:
		parts = append(parts, words.Say("laptop.by_estimate", "error", measure.Distance(*f.Error).In(units)))
	case f.Error != nil:
		parts = append(parts, words.Say("laptop.within", "error", measure.Distance(*f.Error).In(units)))
	}
	switch f.Grounds {
	case position.OldCorrections:
		parts = append(parts, words.Say("laptop.corrections_old"))
	case position.Implausible:
		parts = append(parts, words.Say("laptop.implausible"))
	}
	if f.Late {
		parts = append(parts, words.Say("laptop.clocks"))
	}
	return parts
}

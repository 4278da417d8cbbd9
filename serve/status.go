package serve

import (
	"cmp"
	"encoding/json"
	"io/fs"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/health"
	"groundsheet/serve/position"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/words"
)

// watch is what the server remembers of its own running.
type watch struct {
	began    time.Time
	power    fs.FS // nil = the system's own
	seen     seen
	troubles troubles
	pulse    pulse
	tiles    atomic.Int64 // answers to requests for tiles
	failed   atomic.Int64 // requests that ended in an error of ours
	guessing atomic.Pointer[func() *auth.Guessing]
}

// newWatch begins to remember. paths are what is served: phones shall not learn
// of the folders.
func newWatch(now func() time.Time, power fs.FS, paths []string) *watch {
	w := &watch{began: now(), power: power}
	w.seen.now, w.seen.last = now, map[netip.Addr]time.Time{}
	w.troubles.now, w.troubles.hide = now, hiding(paths)
	return w
}

// hiding takes the folders of paths out of a text.
func hiding(paths []string) func(string) string {
	var pairs []string
	for _, p := range paths {
		for _, folder := range []string{p, filepath.Dir(p)} {
			if absolute, err := filepath.Abs(folder); err == nil && absolute != filepath.Dir(absolute) {
				pairs = append(pairs, absolute+string(filepath.Separator), "")
			}
		}
	}
	return strings.NewReplacer(pairs...).Replace
}

// statusReport is how the server is, as JSON. Fields are added, never renamed.
type statusReport struct {
	Now       time.Time      `json:"now"`
	Started   time.Time      `json:"started"`
	UptimeS   int64          `json:"uptime_s"`
	Warnings  []string       `json:"warnings"` // what somebody should do something about
	Packs     []packReport   `json:"packs"`
	Clients   clientReport   `json:"clients"`
	Tiles     int64          `json:"tiles_answered"`
	Failed    int64          `json:"requests_failed"`
	Memory    memoryReport   `json:"tiles_in_memory"`
	Position  *positionEvent `json:"position"`   // as phones are told; null = no receiver was named
	PluggedIn *bool          `json:"plugged_in"` // null = the system does not tell
	Batteries []batteryState `json:"batteries"`
	Disk      *diskState     `json:"disk"` // of the first pack; null = the system does not tell
	Process   processReport  `json:"process"`
	Guessing  *auth.Guessing `json:"guessing"` // of join codes, as it goes on; null = none
	Troubles  []Trouble      `json:"troubles"`
}

type packReport struct {
	ID      string     `json:"id"`
	Name    string     `json:"name"`
	File    string     `json:"file"`
	Version string     `json:"version"`
	Since   *time.Time `json:"since"` // null = nothing is served
	Trouble string     `json:"trouble"`
	Verdict Verdict    `json:"verdict"` // on this version
}

type clientReport struct {
	Lately  int   `json:"lately"` // addresses that asked within WithinS
	WithinS int   `json:"within_s"`
	LatestS int64 `json:"latest_s"` // seconds since the latest request
	Streams int   `json:"streams"`  // that listen to events: maps that are open
}

type memoryReport struct {
	Tiles int   `json:"tiles"`
	Bytes int64 `json:"bytes"`
}

type batteryState struct {
	Name       string `json:"name"`
	Percent    *int   `json:"percent"`
	Status     string `json:"status"`
	RemainingS *int64 `json:"remaining_s"` // by the use of this moment
}

type diskState struct {
	FreeBytes int64 `json:"free_bytes"`
	SizeBytes int64 `json:"size_bytes"`
}

type processReport struct {
	Goroutines  int   `json:"goroutines"`
	Files       int   `json:"open_files"`   // -1 = not told
	MemoryBytes int64 `json:"memory_bytes"` // its own, without what it reads of files; -1 = not told
}

// report looks at everything once.
func (s *Server) report() statusReport {
	now := s.now()
	n, latest := s.watch.seen.count()
	process := health.ReadProcess()
	r := statusReport{
		Now: now, Started: s.watch.began, UptimeS: int64(now.Sub(s.watch.began).Seconds()), Packs: s.packReports(),
		Clients: clientReport{Lately: n, WithinS: int(lately.Seconds()), LatestS: max(0, int64(now.Sub(latest).Seconds()))},
		Tiles:   s.watch.tiles.Load(), Failed: s.watch.failed.Load(), Memory: s.inMemory(), Batteries: []batteryState{},
		Process:  processReport{process.Goroutines, process.Files, process.Memory},
		Guessing: s.Guessing(), Troubles: s.watch.troubles.latest(),
	}
	if n == 0 {
		r.Clients.LatestS = 0
	}
	r.Clients.Streams = len(s.news.places)
	if s.position != nil {
		p := positionNow(s.position.State(), now)
		r.Position = &p
	}
	power := health.ReadPower(s.watch.power)
	r.PluggedIn = power.Mains
	for _, b := range power.Batteries {
		r.Batteries = append(r.Batteries, batteryReport(b))
	}
	if states := s.Packs(); len(states) > 0 {
		if free, size, ok := health.Free(filepath.Dir(states[0].Path)); ok {
			r.Disk = &diskState{free, size}
		}
	}
	r.Warnings = r.warn(s.ailing())
	return r
}

func (s *Server) packReports() []packReport {
	all := []packReport{}
	for _, p := range s.Packs() {
		out := packReport{ID: p.ID, Name: p.Name, File: filepath.Base(p.Path), Version: p.Version, Trouble: tidy(s.watch.troubles.hide(p.Trouble))}
		if out.Verdict = (Verdict{State: Unchecked, First: []string{}}); p.Verdict != nil {
			out.Verdict = *p.Verdict
		}
		if p.Version != "" {
			out.Since = &p.Since
		}
		all = append(all, out)
	}
	return all
}

func (s *Server) inMemory() (m memoryReport) {
	for _, part := range []*memory{s.hot, s.made} {
		n, bytes := part.size()
		m.Tiles += n
		m.Bytes += int64(bytes)
	}
	return m
}

func batteryReport(b health.Battery) batteryState {
	out := batteryState{Name: b.Name, Status: b.Status}
	if b.Percent >= 0 {
		out.Percent = &b.Percent
	}
	if b.Remaining > 0 {
		s := int64(b.Remaining.Seconds())
		out.RemainingS = &s
	}
	return out
}

// From here on somebody is told.
const (
	lowBattery = 20                  // percent, while it is discharging
	lowDisk    = measure.Size(500e6) // bytes
)

// warn are the things that somebody should do something about, in words.
func (r statusReport) warn(ailing []string) []string {
	all := []string{}
	for _, p := range r.Packs {
		if p.Trouble != "" {
			all = append(all, words.Say("laptop.warn_pack", "file", p.File, "what", strings.TrimSuffix(p.Trouble, ".")))
			ailing = slices.DeleteFunc(slices.Clone(ailing), func(line string) bool { return strings.HasPrefix(line, p.ID+": ") })
		}
	}
	for _, p := range r.Packs {
		if p.Verdict.NotFit() {
			all = append(all, words.Say("laptop.warn_verdict", "file", p.File, "verdict", p.Verdict.String()))
		}
	}
	for _, line := range ailing {
		all = append(all, words.Say("laptop.warn_read", "what", line))
	}
	if p := r.Position; p != nil && (p.Phase == position.PhaseAway || p.Phase == position.PhaseSilent) {
		all = append(all, words.Say("laptop.warn_receiver", "source", p.Source, "what", strings.TrimSuffix(cmp.Or(p.Trouble, phaseWords(p.Phase)), ".")))
	}
	for _, b := range r.Batteries {
		if b.Percent != nil && *b.Percent <= lowBattery && b.Status == "discharging" {
			all = append(all, words.Say("laptop.warn_battery", "name", b.Name, "n", *b.Percent))
		}
	}
	if r.Guessing != nil {
		all = append(all, GuessingWords(*r.Guessing, r.Now))
	}
	if r.Disk != nil && measure.Size(r.Disk.FreeBytes) < lowDisk {
		all = append(all, words.Say("laptop.warn_disk", "free", measure.Size(r.Disk.FreeBytes)))
	}
	return all
}

// GuessingWords says how much guessing goes on, and from where.
func GuessingWords(g auth.Guessing, now time.Time) string {
	return words.Say("door.guessing", "wrong", g.Wrong, "addresses", g.Addresses, "since", measure.Duration(now.Sub(g.Since)),
		"latest", measure.Duration(now.Sub(g.Latest)), "most", g.BusiestSent, "busiest", g.Busiest)
}

// Unchecked is how many packs that are served were not checked yet.
func (r statusReport) Unchecked() (n int) {
	for _, p := range r.Packs {
		if p.Version != "" && p.Verdict.State == Unchecked {
			n++
		}
	}
	return n
}

// Served is how many packs are served.
func (r statusReport) Served() (n int) {
	for _, p := range r.Packs {
		if p.Version != "" {
			n++
		}
	}
	return n
}

func (s *Server) statusDocument(w http.ResponseWriter, r *http.Request) {
	body, err := json.Marshal(s.report())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", mediaJSON)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(body) // whoever asked went away
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// Package status says how the server is: a word for programs, a page for people, and
// the same as JSON.
package status

import (
	"cmp"
	_ "embed" // the style of the page
	"encoding/json"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/pack/check"
	"groundsheet/serve/auth"
	"groundsheet/serve/catalog"
	"groundsheet/serve/document"
	"groundsheet/serve/event"
	"groundsheet/serve/tile"
)

// Packs are the packs of a server.
type Packs interface {
	States() []catalog.PackState
	Unreadable() []string // a line for each
}

// Options of a [Monitor].
type Options struct {
	Now       func() time.Time
	Power     fs.FS // where the system describes batteries; nil = /sys/class/power_supply
	Packs     Packs
	Tiles     *tile.Server
	Events    *event.Hub
	Responder *document.Responder
	Books     func(pack string) *Book // nil = of none; gives nil where there is none
	Errors    *ErrorLog
	Clients   *Clients
}

// Book is how the field book of a pack is.
type Book struct {
	File    string `json:"file"`
	Marks   int    `json:"marks"`
	Photos  int    `json:"photos"`
	Trouble string `json:"trouble"` // why nothing can be added; "" = it can
}

// Monitor answers with the status of a server.
type Monitor struct {
	Options
	began    time.Time
	guessing atomic.Pointer[func() *auth.Guessing]
}

// New makes a monitor of a server that begins now.
func New(o Options) *Monitor { return &Monitor{Options: o, began: o.Now()} }

// SetGuessing says who knows of codes that somebody guesses.
func (m *Monitor) SetGuessing(f func() *auth.Guessing) { m.guessing.Store(&f) }

// Guessing describes codes that somebody guesses; nil when nobody does.
func (m *Monitor) Guessing() *auth.Guessing {
	if f := m.guessing.Load(); f != nil {
		return (*f)()
	}
	return nil
}

// Routes are the patterns of the status.
func (m *Monitor) Routes() map[string]http.HandlerFunc {
	return map[string]http.HandlerFunc{
		"GET /healthz":     m.health,
		"GET /status":      m.page,
		"GET /status.json": m.document,
		"GET /status.css":  document.NewAsset("text/css; charset=utf-8", []byte(style)).ServeHTTP,
	}
}

//go:embed status.css
var style string

// verdictHeader names the worst verdict on what is served: "fit", "unchecked" or
// "not fit".
const verdictHeader = "Groundsheet-Verdict"

// health answers "ok", or 503 and a line for each pack that cannot be read or is not
// fit. A server whose packs are not checked yet is well; the header says so.
func (m *Monitor) health(w http.ResponseWriter, _ *http.Request) {
	lines, worst := m.Packs.Unreadable(), check.Fit
	for _, p := range m.Packs.States() {
		switch v := p.Checked(); {
		case p.Version == "":
		case v.NotFit():
			worst = check.NotFit
			lines = append(lines, p.ID+": "+v.String())
		case !v.Fit() && worst == check.Fit:
			worst = catalog.Unchecked
		}
	}
	w.Header().Set(verdictHeader, worst)
	if len(lines) == 0 {
		send(w, "text/plain; charset=utf-8", http.StatusOK, "ok\n")
		return
	}
	send(w, "text/plain; charset=utf-8", http.StatusServiceUnavailable, strings.Join(lines, "\n")+"\n")
}

// page is the report for people: one page without a script.
func (m *Monitor) page(w http.ResponseWriter, r *http.Request) {
	body, err := m.report().page(unitsOf(m.Packs.States()))
	if err != nil {
		m.Responder.Fail(w, r, err)
		return
	}
	send(w, "text/html; charset=utf-8", http.StatusOK, body)
}

func (m *Monitor) document(w http.ResponseWriter, r *http.Request) {
	body, err := json.Marshal(m.report())
	if err != nil {
		m.Responder.Fail(w, r, err)
		return
	}
	send(w, document.JSON, http.StatusOK, string(body))
}

// send sends text that nobody keeps.
func send(w http.ResponseWriter, media string, status int, text string) {
	w.Header().Set("Content-Type", media)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = io.WriteString(w, text) // the client went away: nobody is left to be answered
}

// unitsOf gives the units of the jobs that are served; metric where they differ.
func unitsOf(packs []catalog.PackState) string {
	units := ""
	for _, p := range packs {
		switch {
		case p.Version == "" || p.Units == units:
		case units == "":
			units = p.Units
		default:
			return "metric"
		}
	}
	return cmp.Or(units, "metric")
}

// clientPeriod is how long after its latest request a client counts as present.
const clientPeriod = 10 * time.Minute

// maxClients bounds how many addresses are kept.
const maxClients = 4096

// Clients counts the addresses of which requests came lately. It never lists them.
type Clients struct {
	now    func() time.Time
	mu     sync.RWMutex
	latest map[netip.Addr]time.Time
}

// NewClients makes an empty count.
func NewClients(now func() time.Time) *Clients {
	return &Clients{now: now, latest: map[netip.Addr]time.Time{}}
}

// Record counts the sender of a request.
func (c *Clients) Record(r *http.Request) {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return // not over the network
	}
	now := c.now()
	c.mu.RLock()
	latest, known := c.latest[at.Addr()]
	c.mu.RUnlock()
	if known && now.Sub(latest) < time.Second && !now.Before(latest) {
		return // recent enough: a phone asks for many tiles in a second
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.latest) >= maxClients {
		c.expire(now)
	}
	if _, known := c.latest[at.Addr()]; known || len(c.latest) < maxClients {
		c.latest[at.Addr()] = now
	}
}

// expire drops clients that are not present any more. The caller holds the lock.
func (c *Clients) expire(now time.Time) {
	maps.DeleteFunc(c.latest, func(_ netip.Addr, at time.Time) bool { return now.Sub(at) > clientPeriod })
}

// Count is how many addresses there are.
func (c *Clients) Count() int {
	n, _ := c.count()
	return n
}

// count is the number of clients, and when the latest request came.
func (c *Clients) count() (n int, latest time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.expire(c.now())
	for _, at := range c.latest {
		if at.After(latest) {
			latest = at
		}
	}
	return len(c.latest), latest
}

package serve

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/device"
	"groundsheet/serve/event"
	"groundsheet/serve/position"
	"groundsheet/serve/status"
	"groundsheet/tiles/sqlite"
)

// supplies is a laptop on its battery, after Linux's
// Documentation/ABI/testing/sysfs-class-power.
func supplies(percent string) fstest.MapFS {
	fs := fstest.MapFS{}
	for name, value := range map[string]string{
		"AC/type": "Mains", "AC/online": "0", "BAT0/type": "Battery", "BAT0/status": "Discharging", "BAT0/capacity": percent,
		"BAT0/energy_now": "10000000", "BAT0/power_now": "5000000",
	} {
		fs[name] = &fstest.MapFile{Data: []byte(value + "\n")}
	}
	return fs
}

// clock is a time that a test sets.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

// statusReport is /status.json as programs read it.
type statusReport struct {
	UptimeS  int64 `json:"uptime_s"`
	Warnings []string
	Packs    []struct {
		ID, Name, File, Version, Trouble string
		Since                            *time.Time
	}
	Clients struct {
		Lately  int
		WithinS int   `json:"within_s"`
		LatestS int64 `json:"latest_s"`
		Streams int
	}
	Tiles     int64 `json:"tiles_answered"`
	Failed    int64 `json:"requests_failed"`
	Position  *event.Position
	PluggedIn *bool `json:"plugged_in"`
	Batteries []struct {
		Percent    *int
		Status     string
		RemainingS *int64 `json:"remaining_s"`
	}
	Guessing *auth.Guessing
	Troubles []status.Trouble
}

func reportOf(t *testing.T, h http.Handler) statusReport {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/status.json", nil))
	var r statusReport
	if err := json.Unmarshal(w.Body.Bytes(), &r); err != nil || w.Code != 200 || w.Header().Get("Cache-Control") != "no-store" {
		t.Fatalf("%d %v %s", w.Code, err, w.Body)
	}
	return r
}

func pageOf(t *testing.T, h http.Handler) string {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/status", nil))
	if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	return w.Body.String()
}

func TestStatus(t *testing.T) {
	c := &clock{time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)}
	path := makePack(t, "Site one")
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Now: c.now, Poll: -1, Power: supplies("15")})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ask := func(from, path string) int {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil)
		r.RemoteAddr = from
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		return w.Code
	}
	tile := "/packs/site-one/tiles/" + deepest17.String() + ".png"
	ask("10.0.0.1:1000", tile)
	ask("10.0.0.1:1001", tile)
	ask("10.0.0.2:1000", "/packs.json")
	c.at = c.at.Add(5 * time.Minute)
	ask("[fd00::3]:9", "/wmts"+tileQuestion(deepest17))
	r := reportOf(t, s) // from a fourth address, that of httptest
	if r.Clients.Lately != 4 || r.Tiles != 3 || r.UptimeS != 300 || r.Failed != 0 || r.Clients.WithinS != 600 {
		t.Errorf("%+v", r)
	}
	c.at = c.at.Add(6 * time.Minute)
	if r := reportOf(t, s); r.Clients.Lately != 2 || r.Clients.LatestS != 0 {
		t.Errorf("eleven minutes after: %+v", r.Clients)
	}
	p := r.Packs[0]
	if len(r.Packs) != 1 || p.ID != "site-one" || p.Name != "Site one" || p.File != "p.mbtiles" || p.Version == "" || p.Since == nil || p.Trouble != "" {
		t.Errorf("%+v", p)
	}
	if b := r.Batteries[0]; *b.Percent != 15 || b.Status != "discharging" || *b.RemainingS != 7200 || r.PluggedIn == nil || *r.PluggedIn {
		t.Errorf("%+v", b)
	}
	if len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0], "15%") {
		t.Errorf("%q", r.Warnings)
	}
	text := pageOf(t, s)
	for _, want := range []string{"Site one", "15%, discharging, about 2 h left at the present rate", "not plugged in", "Running for 11 min", "plug this computer in", "None."} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, "10.0.0.") || strings.Contains(text, filepath.Dir(path)) || strings.Contains(text, "<script") {
		t.Errorf("the page tells too much: %s", text)
	}
}

// TestUnits: each pack has the units of its job. Another program's file has none and
// counts as metric.
func TestUnits(t *testing.T) {
	s, _ := looked(t, nil, makePack(t, "Site one"), hostileFile(t, bareTables, quarters(t)))
	for i, want := range []string{"us", "metric"} {
		if got := s.Packs()[i].Units; got != want {
			t.Errorf("pack %d: %q, want %q", i, got, want)
		}
	}
}

// TestStatusEscapes: names of packs, addresses that were asked and errors are
// text and nothing else.
func TestStatusEscapes(t *testing.T) {
	path := makePack(t, `<script>alert(1)</script> & "x"`)
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: -1, Power: fstest.MapFS{
		"<b>/type": {Data: []byte("Battery")}, "<b>/status": {Data: []byte("<i onload=x>")},
	}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/packs/%3Cimg%20src=x%20onerror=y%3E/about.json", nil)
	s.reply.Fail(httptest.NewRecorder(), r, errors.New(path+`: </li><script>alert(2)</script>`))
	text := pageOf(t, s)
	for _, bad := range []string{"<script", "<b>", "<i ", "<img", filepath.Dir(path)} {
		if strings.Contains(text, bad) {
			t.Errorf("%q is in the page", bad)
		}
	}
	if !strings.Contains(text, "&lt;script&gt;alert(1)") || !strings.Contains(text, "alert(2)") {
		t.Errorf("the words are missing: %s", text)
	}
	if got := reportOf(t, s); got.Failed != 1 || len(got.Troubles) != 1 || strings.Contains(got.Troubles[0].Text, filepath.Dir(path)) {
		t.Errorf("%+v", got.Troubles)
	}
}

func healthOf(t *testing.T, h http.Handler) (int, string) {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/healthz", nil))
	if w.Header().Get("Cache-Control") != "no-store" {
		t.Error("the answer may be kept")
	}
	return w.Code, w.Body.String()
}

// TestHealthz: ok; 503 for a pack whose tiles cannot be read, and for one that
// was changed in place; ok again when a good one takes over.
func TestHealthz(t *testing.T) {
	c := &clock{time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)}
	path := makePack(t, "Site one")
	s, err := Open(t.Context(), []string{path, makePack(t, "Site two")}, Options{Page: page, Now: c.now, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	look := func() { c.at = c.at.Add(2 * time.Second); s.Scan(t.Context()); s.Scan(t.Context()) }
	look()
	if code, body := healthOf(t, s); code != 200 || body != "ok\n" {
		t.Fatalf("%d %s", code, body)
	}
	if err := os.Truncate(path, 5000); err != nil { // the disk gives less than it had
		t.Fatal(err)
	}
	if code, _ := healthOf(t, s); code != 200 {
		t.Errorf("within a second the file was looked at again: %d", code)
	}
	look()
	if code, body := healthOf(t, s); code != 503 || !strings.HasPrefix(body, "site-one: ") || strings.Contains(body, "site-two") || strings.Contains(body, filepath.Dir(path)) {
		t.Errorf("%d %s", code, body)
	}
	if r := reportOf(t, s); len(r.Warnings) != 1 || !strings.HasPrefix(r.Warnings[0], "p.mbtiles: ") {
		t.Errorf("%q", r.Warnings)
	}
	if err := os.Rename(makePack(t, "Site one"), path); err != nil {
		t.Fatal(err)
	}
	look()
	if code, body := healthOf(t, s); code != 200 {
		t.Errorf("%d %s", code, body)
	}
}

// TestHealthzReadsTiles: a pack that opens, but whose pages with tiles are
// damaged, is told before a phone finds out.
func TestHealthzReadsTiles(t *testing.T) {
	path := makePack(t, "Site one")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=ro"})
	var root, size int64
	if err := db.QueryRow(`SELECT rootpage, (SELECT page_size FROM pragma_page_size) FROM sqlite_schema WHERE name='tile_place'`).Scan(&root, &size); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte(strings.Repeat("\xff", int(size))), (root-1)*size); err != nil {
		t.Fatal(err)
	}
	f.Close()
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if code, body := healthOf(t, s); code != 503 || !strings.Contains(body, "site-one: its tiles cannot be read") {
		t.Errorf("%d %s", code, body)
	}
}

// TestStatusTellsOfTheReceiver: one that is away is to be seen to; where it is
// stands on the map alone.
func TestStatusTellsOfTheReceiver(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address, err := device.ParseAddress("receiver", "tcp:"+l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	feed := position.NewFeed(address, position.Options{})
	s, err := Open(t.Context(), []string{makePack(t, "Site one")}, Options{Page: page, Poll: -1, Position: feed})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); feed.Run(ctx) }()
	defer func() { cancel(); <-ended }()
	c, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	// An invented sentence.
	if _, err := fmt.Fprint(c, "$GPGGA,123519.00,4029.9000,N,14029.8000,W,4,12,0.8,12.0,M,0.0,M,1.0,0000*51\r\n"); err != nil {
		t.Fatal(err)
	}
	until := func(phase position.Phase) {
		for began := time.Now(); feed.State().Phase != phase; time.Sleep(10 * time.Millisecond) {
			if time.Since(began) > 20*time.Second {
				t.Fatalf("%+v, want %s", feed.State(), phase)
			}
		}
	}
	until(position.PhaseFix)
	r := reportOf(t, s)
	if r.Position == nil || r.Position.Phase != position.PhaseFix || r.Position.Fix.Kind != position.Fixed || len(r.Warnings) != 0 {
		t.Errorf("%+v %q", r.Position, r.Warnings)
	}
	text := pageOf(t, s)
	if !strings.Contains(text, "has a position; latest position") || !strings.Contains(text, "RTK fixed") || strings.Contains(text, "40.49") {
		t.Errorf("%s", text)
	}
	l.Close()
	c.Close()
	until(position.PhaseAway)
	if r := reportOf(t, s); len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0], "position receiver (") {
		t.Errorf("%q", r.Warnings)
	}
}

// TestStatusGuessing: guessing stands among what is to be seen to, with how much and from
// where, and in the report for programs.
func TestStatusGuessing(t *testing.T) {
	c := &clock{at: time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)}
	s, err := Open(t.Context(), []string{makePack(t, "Site one")}, Options{Page: page, Now: c.now, Poll: -1, Power: fstest.MapFS{}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if r := reportOf(t, s); r.Guessing != nil || len(r.Warnings) != 0 {
		t.Errorf("%+v", r)
	}
	at := func() *auth.Guessing {
		return &auth.Guessing{Since: c.at.Add(-4 * time.Minute), Latest: c.at.Add(-2 * time.Second), Wrong: 1234, Addresses: 250, Busiest: "192.168.4.7", BusiestSent: 81}
	}
	s.monitor.SetGuessing(at)
	const words = "1234 wrong codes from 250 addresses in 4 min, the latest 2 s ago; 81 of them from 192.168.4.7"
	if r := reportOf(t, s); r.Guessing == nil || r.Guessing.Wrong != 1234 || r.Guessing.Busiest != "192.168.4.7" || len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0], words) {
		t.Errorf("%+v", r)
	}
	if text := pageOf(t, s); !strings.Contains(text, words) {
		t.Errorf("%s", text)
	}
}

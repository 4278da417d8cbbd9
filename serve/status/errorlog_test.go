package status

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// clock is a time that a test sets.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func TestTroublesAreFewAndShort(t *testing.T) {
	c := &clock{time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)}
	all := NewErrorLog(c.now, []string{"/secret/place/a.mbtiles"})
	for i := range 3 * maxTroubles {
		c.at = c.at.Add(time.Second)
		all.add(fmt.Sprintf("trouble %d", i))
	}
	all.add("trouble 70")
	got := all.latest()
	if len(got) != maxTroubles || got[0].Text != "trouble 70" || got[0].Times != 2 || !got[0].First.Before(got[0].Last) || got[1].Text != fmt.Sprintf("trouble %d", 3*maxTroubles-1) {
		t.Errorf("%d: %+v %+v", len(got), got[0], got[1])
	}
	for text, want := range map[string]string{
		"/secret/place/a.mbtiles: broken": "a.mbtiles: broken",
		"two\nlines\tand\x00\x1b[31m":     "two lines and[31m",
		"\u202eabc\u200b":                 "abc",
		"bad \xff utf":                    "bad ? utf",
		strings.Repeat("ä", 1000):         strings.Repeat("ä", maxTroubleText) + "…",
	} {
		all.add(text)
		if got := all.latest()[0].Text; got != want {
			t.Errorf("%q: %q", text, got)
		}
	}
}

// TestTeeKeepsWarnings: what is written to the log is written still; warnings
// and errors are kept with all that they name.
func TestTeeKeepsWarnings(t *testing.T) {
	var b strings.Builder
	c := &clock{time.Unix(0, 0)}
	all := NewErrorLog(c.now, nil)
	log := all.Tee(slog.New(slog.NewTextHandler(&b, &slog.HandlerOptions{Level: slog.LevelError})))
	log.With("pack", "one").WithGroup("g").Warn("slow", "by", 3*time.Second)
	log.Info("nothing to see")
	log.Error("broken", "err", errors.New("short read"), "path", "tile 1/2/3")
	got := all.latest()
	if len(got) != 2 || got[0].Text != "broken (tile 1/2/3): short read" || got[1].Text != "slow (pack one) (by 3s)" {
		t.Errorf("%+v", got)
	}
	if text := b.String(); !strings.Contains(text, "msg=broken") || strings.Contains(text, "slow") || strings.Contains(text, "nothing") {
		t.Errorf("log: %s", text)
	}
}

// TestClientsAreBounded: a client that pretends to be many does not fill the memory.
func TestClientsAreBounded(t *testing.T) {
	c := &clock{time.Unix(1e9, 0)}
	clients := NewClients(c.now)
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	for i := range 2 * maxClients {
		r.RemoteAddr = fmt.Sprintf("[fd00::%x]:1", i)
		clients.Record(r)
	}
	if n, _ := clients.count(); n != maxClients {
		t.Errorf("%d", n)
	}
	c.at = c.at.Add(clientPeriod + time.Second)
	clients.Record(r)
	if n, _ := clients.count(); n != 1 || len(clients.latest) != 1 {
		t.Errorf("%d left of those long ago", n)
	}
}

package serve

import (
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"
)

// clock is a time that a test sets.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

func TestTroublesAreFewAndShort(t *testing.T) {
	c := &clock{time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)}
	all := troubles{now: c.now, hide: hiding([]string{"/secret/place/a.mbtiles"})}
	for i := range 3 * mostTroubles {
		c.at = c.at.Add(time.Second)
		all.add(fmt.Sprintf("trouble %d", i))
	}
	all.add("trouble 70")
	got := all.latest()
	if len(got) != mostTroubles || got[0].Text != "trouble 70" || got[0].Times != 2 || !got[0].First.Before(got[0].Last) || got[1].Text != fmt.Sprintf("trouble %d", 3*mostTroubles-1) {
		t.Errorf("%d: %+v %+v", len(got), got[0], got[1])
	}
	for text, want := range map[string]string{
		"/secret/place/a.mbtiles: broken": "a.mbtiles: broken",
		"two\nlines\tand\x00\x1b[31m":     "two lines and[31m",
		"\u202eabc\u200b":                 "abc",
		"bad \xff utf":                    "bad ? utf",
		strings.Repeat("ä", 1000):         strings.Repeat("ä", longestTrouble) + "…",
	} {
		all.add(text)
		if got := all.latest()[0].Text; got != want {
			t.Errorf("%q: %q", text, got)
		}
	}
}

// TestTeeNotesWarnings: what is written to the log is written still; warnings
// and errors are noted with all that they name.
func TestTeeNotesWarnings(t *testing.T) {
	var b strings.Builder
	c := &clock{time.Unix(0, 0)}
	all := &troubles{now: c.now, hide: hiding(nil)}
	log := slog.New(tee{Handler: slog.NewTextHandler(&b, &slog.HandlerOptions{Level: slog.LevelError}), troubles: all})
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

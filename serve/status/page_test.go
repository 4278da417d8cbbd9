package status

import (
	"html"
	"regexp"
	"strings"
	"testing"
	"time"

	"groundsheet/pack/check"
	"groundsheet/serve/catalog"
	"groundsheet/serve/event"
	"groundsheet/serve/health"
	"groundsheet/serve/position"
	"groundsheet/tiles/words"
	"groundsheet/tiles/words/golden"
)

var (
	pageHead = regexp.MustCompile(`(?s)<head>.*?</head>`)
	localNow = regexp.MustCompile(`\d{4}-\d\d-\d\d \d\d:\d\d:\d\d \S+`) // in the time zone of who runs the test
	nameEnd  = regexp.MustCompile(`</dt><dd>`)
	lineEnd  = regexp.MustCompile(`<br>|</(dd|li|p|h1|h2|h3|nav)>`)
	anyTag   = regexp.MustCompile(`<[^>]*>`)
	blank    = regexp.MustCompile(`\n\s*\n+`)
)

// plainStatus is what the status page says, without its marks.
func plainStatus(page string) string {
	text := localNow.ReplaceAllString(pageHead.ReplaceAllString(page, ""), "2026-11-25 14:00:00 UTC")
	text = lineEnd.ReplaceAllString(nameEnd.ReplaceAllString(text, " | "), "\n")
	return strings.TrimSpace(blank.ReplaceAllString(html.UnescapeString(anyTag.ReplaceAllString(text, "")), "\n")) + "\n"
}

var statusNow = time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)

func ptr[T any](v T) *T { return &v }

func ago(d time.Duration) *time.Time { return ptr(statusNow.Add(-d)) }

// eventful is an invented report with much to tell: a pack that is fit, one
// that is not, one that waits for its check, one that is refused.
func eventful() report {
	six := []string{"tile 21/1/2 near 40.00000, -105.00000 is wanted but not in the pack: run pack again", "second fault", "third fault", "fourth fault", "fifth fault"}
	return report{
		UptimeS: 93784,
		Packs: []packReport{
			{ID: "elm", Name: "Elm Street", File: "elm.mbtiles", Version: "1", Since: ago(26 * time.Hour), Verdict: catalog.Verdict{State: check.Fit}},
			{ID: "oak", Name: "Oak Street", File: "oak.mbtiles", Version: "2", Since: ago(5 * time.Minute), Verdict: catalog.Verdict{State: check.NotFit, Faults: 7, First: six}},
			{ID: "ash", Name: "Ash Street", File: "ash.mbtiles", Version: "3", Since: ago(12 * time.Second), Verdict: catalog.Verdict{State: catalog.Unchecked}},
			{File: "new.mbtiles", Trouble: words.Say("laptop.arriving"), Verdict: catalog.Verdict{State: catalog.Unchecked}},
		},
		Clients: clientReport{Lately: 2, WithinS: 600, LatestS: 12, Streams: 1}, Tiles: 1234567, Failed: 3, Memory: memoryReport{812, 14_000_000},
		Position: &event.Position{
			Source: "serial ttyUSB0", Phase: position.PhaseSilent, Trouble: "it has stopped talking", Read: 4321, Refused: 2,
			Fix: &event.Fix{Kind: position.Fixed, AgeMS: 95_000, Late: true, Grounds: position.OldCorrections},
		},
		PluggedIn: new(bool),
		Batteries: []health.Battery{{Name: "BAT0", Percent: ptr(15), Status: "discharging", RemainingS: ptr(int64(5400))}, {Name: "BAT1"}},
		Disk:      &diskReport{400_000_000, 250_000_000_000}, Process: health.Process{Memory: 48_000_000},
		Troubles: []Trouble{
			{Text: "request failed (path /packs/oak/about.json): disk I/O error", Last: *ago(150 * time.Second), Times: 3},
			{Text: "a file is refused as a pack (path old.mbtiles)", Last: *ago(time.Hour), Times: 1},
		},
	}
}

// usual is one pack that serves, or waits for its check, beside a receiver.
func usual(v catalog.Verdict) report {
	plugged := true
	return report{
		UptimeS: 60, Packs: []packReport{{ID: "elm", Name: "Elm Street", File: "elm.mbtiles", Version: "1", Since: ago(time.Minute), Verdict: v}},
		Clients: clientReport{Lately: 1, WithinS: 600, LatestS: 1}, PluggedIn: &plugged, Process: health.Process{Memory: -1},
		Position: &event.Position{Source: "a walk", Recorded: true, Phase: position.PhaseFix, Read: 10, Fix: &event.Fix{Kind: position.Autonomous, Error: ptr(2.5), Grounds: position.FromHDOP}},
	}
}

// TestGoldenStatus holds what the status page says against a file to review;
// -update writes it anew.
func TestGoldenStatus(t *testing.T) {
	stated := usual(catalog.Verdict{State: check.Fit})
	stated.Position = &event.Position{Source: "tcp", Phase: position.PhaseFix, Read: 10, Fix: &event.Fix{Kind: position.Fixed, AgeMS: 400, Error: ptr(0.03), Grounds: position.FromGST}}
	got := ""
	for _, c := range []struct {
		name, units string
		report      report
		unreadable  []string
	}{
		{"much to tell", "us", eventful(), []string{"ash: its tiles cannot be read: run groundsheet check on it"}},
		{"all well", "us", stated, nil}, {"not checked yet", "metric", usual(catalog.Verdict{State: catalog.Unchecked}), nil},
		{"nothing served", "us", report{Clients: clientReport{WithinS: 600}, Process: health.Process{Memory: -1}}, nil},
	} {
		c.report.Now = statusNow
		c.report.Warnings = c.report.warnings(c.unreadable)
		page, err := c.report.page(c.units)
		if err != nil {
			t.Fatal(err)
		}
		got += "== " + c.name + "\n" + plainStatus(page)
	}
	golden.Hold(t, "status", got)
}

func TestThousands(t *testing.T) {
	for n, want := range map[int64]string{0: "0", 999: "999", 1000: "1,000", 1234567: "1,234,567"} {
		if got := thousands(n); got != want {
			t.Errorf("%d: %s", n, got)
		}
	}
}

// TestUnits: lengths are in the units of the jobs, metric where those differ.
func TestUnits(t *testing.T) {
	us, metric := catalog.PackState{Version: "1", Units: "us"}, catalog.PackState{Version: "1", Units: "metric"}
	for _, c := range []struct {
		want  string
		packs []catalog.PackState
	}{{"us", []catalog.PackState{us, us, {}}}, {"metric", []catalog.PackState{us, metric}}, {"metric", []catalog.PackState{metric, metric}}, {"metric", nil}} {
		if got := unitsOf(c.packs); got != c.want {
			t.Errorf("%v: %q, want %q", c.packs, got, c.want)
		}
	}
	p := event.Position{Phase: position.PhaseFix, Fix: &event.Fix{Kind: position.Autonomous, Error: ptr(2.5)}}
	for units, want := range map[string]string{"us": "within 8.2 ft (95%)", "metric": "within 2.5 m (95%)"} {
		if got := receiverText(p, units); !strings.Contains(got, want) {
			t.Errorf("%q: %q, want %q", units, got, want)
		}
	}
}

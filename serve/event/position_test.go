package event

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"groundsheet/serve/position"
)

func checked(body string) string {
	var sum byte
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// said is the event of what a receiver says, as phones read it.
func said(t *testing.T, o position.Options, s position.FeedState, at time.Time, after time.Duration, lines ...string) (e, fix map[string]any) {
	t.Helper()
	d := position.NewDecoder(o)
	d.Write([]byte(strings.Join(lines, "")), at)
	f, ok := d.Pending()
	if !ok {
		t.Fatal("no fix")
	}
	s.Fix = &f
	body, err := json.Marshal(positionOf(s, at.Add(after)))
	if err == nil {
		err = json.Unmarshal(body, &e)
	}
	if err != nil {
		t.Fatal(err)
	}
	return e, e["fix"].(map[string]any)
}

// What is not told is null in the event, and nothing is live that is silent.
func TestPositionEvent(t *testing.T) {
	at := time.Date(2026, 11, 25, 10, 15, 31, 0, time.UTC)
	gga := func(quality int, age, station string) string {
		return checked(fmt.Sprintf("GNGGA,101530.00,4000.00000,N,10500.00000,W,%d,18,0.6,35.2,M,-34.2,M,%s,%s", quality, age, station))
	}
	bare := checked("GNGGA,,4000.00000,N,10500.00000,W,4,,,,M,,M,,")
	date := checked("GNRMC,081530.00,A,4000.00000,N,10500.00000,W,0.04,,251126,,,A")
	gst := checked("GNGST,101530.00,,,,,0.003,0.003,0.021")
	found := position.FeedState{Phase: position.PhaseFix}
	for _, c := range []struct {
		name  string
		o     position.Options
		state position.FeedState
		after time.Duration
		lines []string
		want  map[string]any
	}{
		{"nothing told", position.Options{}, found, 0, []string{bare}, map[string]any{
			"error_m": nil, "hdop": nil, "satellites": nil, "corrections_s": nil, "station": nil, "stated_m": nil, "ahead_s": nil, "date": nil, "clock": nil, "time": "", "live": true}},
		{"RTK", position.Options{}, found, 0, []string{gga(4, "1.0", "0042"), gst}, map[string]any{
			"error_m": 0.0083, "corrections_s": 1.0, "station": "0042", "grounds": "gst", "live": true, "late": false, "ahead_s": -1.0}},
		{"old corrections", position.Options{}, found, 0, []string{gga(4, "55.0", "0042"), gst}, map[string]any{
			"error_m": nil, "corrections_s": 55.0, "grounds": "old-corrections", "stated_m": 0.0083}},
		{"implausible", position.Options{}, found, 0, []string{gga(1, "", ""), gst}, map[string]any{
			"error_m": nil, "grounds": "implausible", "stated_m": 0.0083, "nad83_m": nil}},
		{"no RMC, no day", position.Options{}, found, 0, []string{gga(4, "", "")}, map[string]any{"date": nil, "time": "", "clock": "10:15:30"}},
		{"a recording without RMC", position.Options{Recorded: true}, found, 0, []string{gga(4, "", "")}, map[string]any{
			"date": nil, "time": "", "clock": "10:15:30", "live": false, "ahead_s": nil, "late": false}},
		{"two hours behind", position.Options{}, found, 0, []string{date}, map[string]any{
			"date": "2026-11-25", "time": "2026-11-25T08:15:30Z", "late": true, "ahead_s": -7201.0}},
		{"5 s", position.Options{}, found, 5 * time.Second, []string{gga(4, "", "")}, map[string]any{"live": true}},
		{"42 s into silence", position.Options{}, found, 42 * time.Second, []string{gga(4, "", "")}, map[string]any{"live": false}},
		{"no fix any more", position.Options{}, position.FeedState{Phase: position.PhaseNoFix}, 0, []string{gga(4, "", "")}, map[string]any{"live": false}},
		{"silent", position.Options{}, position.FeedState{Phase: position.PhaseSilent}, 0, []string{gga(4, "", "")}, map[string]any{"live": false}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, fix := said(t, c.o, c.state, at, c.after, c.lines...)
			for key, want := range c.want {
				got, there := fix[key]
				n, number := want.(float64)
				m, alike := got.(float64)
				if !there || number && (!alike || math.Abs(n-m) > 1e-4) || !number && got != want {
					t.Errorf("%s: %v, want %v", key, got, want)
				}
			}
		})
	}
	// The frame is what a person stated. PROJ's cct with EPSG:8970 at 2026.0 gives
	// 1.337 m and 0.524 m, so 1.436 m, at 40 N 105 W; most of a year adds 2 cm at most.
	e, fix := said(t, position.Options{}, found, at, 0, gga(4, "", ""))
	if e["frame"] != nil || math.Abs(fix["nad83_m"].(float64)-1.436) > 0.03 {
		t.Errorf("frame %v, NAD83 %v m off", e["frame"], fix["nad83_m"])
	}
	e, _ = said(t, position.Options{}, position.FeedState{Phase: position.PhaseFix, Frame: "NAD83(2011)"}, at, 0, gga(4, "", ""))
	if e["frame"] != "NAD83(2011)" {
		t.Errorf("frame %v", e["frame"])
	}
}

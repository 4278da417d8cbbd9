package serve

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"groundsheet/serve/position"
)

// What is not told is null, and nothing is live in silence.
func TestPositionEventTellsNoZeros(t *testing.T) {
	now := time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC)
	fix := position.Fix{Lat: 40, Lon: -105, Kind: position.Fixed, Live: true, Satellites: -1, Received: now}
	for phase, live := range map[position.Phase]string{position.Found: "true", position.Silent: "false", position.Away: "false", position.Lost: "false"} {
		text, err := json.Marshal(positionNow(position.State{Phase: phase, Fix: &fix}, now))
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{`"live":` + live, `"error_m":null`, `"hdop":null`, `"satellites":null`, `"corrections_s":null`} {
			if !strings.Contains(string(text), want) {
				t.Errorf("%s: %s is not in %s", phase, want, text)
			}
		}
	}
}

package event

import (
	"encoding/json"
	"testing"
	"time"

	"groundsheet/pack/record/instrument"
	"groundsheet/serve/readings"
)

// The age of a reading is that of the moment when it is sent.
func TestInstrument(t *testing.T) {
	now := time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)
	h := New(Options{Now: func() time.Time { return now }})
	depth := 1.2
	h.Instrument(readings.State{Name: "locator 3", Source: "serial port ttyUSB1", Open: true, Reading: &readings.Reading{
		Reading: instrument.Reading{Line: "D=1.2", DepthM: &depth, DepthAsTold: "1.2 m"}, At: now,
	}})
	now = now.Add(3 * time.Second)
	events, _, _ := h.since(0)
	if len(events) != 1 || events[0].name != "instrument" {
		t.Fatalf("%+v", events)
	}
	got, err := json.Marshal(events[0].body())
	const want = `{"name":"locator 3","source":"serial port ttyUSB1","open":true,"trouble":"","refused":0,"reading":{` +
		`"line":"D=1.2","depth_m":1.2,"depth_as_told":"1.2 m","depth_of":"","current_ma":null,"frequency_hz":null,` +
		`"at":"2026-05-04T10:00:00Z","age_ms":3000}}`
	if err != nil || string(got) != want {
		t.Errorf("%s, %v, want %s", got, err, want)
	}
}

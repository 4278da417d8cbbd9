package readings

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/pack/record/instrument"
	"groundsheet/serve/device"
)

var format = instrument.Format{
	Name: "locator 3", Form: instrument.KeyValue, Columns: map[string]string{"depth": "D", "frequency": "F"},
	Units: map[string]string{"depth": "m", "frequency": "kHz"},
}

// start runs a feed until the test ends.
func start(t *testing.T, address string) *Feed {
	t.Helper()
	a, err := device.ParseAddress("locator", address)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	var ended sync.WaitGroup
	f := NewFeed(a, format, Options{Retry: 20 * time.Millisecond})
	ended.Go(func() { f.Run(ctx) })
	t.Cleanup(func() { stop(); ended.Wait() })
	return f
}

// until waits for a state.
func until(t *testing.T, f *Feed, what string, is func(State) bool) State {
	t.Helper()
	for began := time.Now(); time.Since(began) < 20*time.Second; time.Sleep(5 * time.Millisecond) {
		if s := f.State(); is(s) {
			return s
		}
	}
	t.Fatalf("never %s: %+v", what, f.State())
	return State{}
}

// An instrument on the network: its lines come in pieces, some are wrong, it goes away and
// comes back, and its latest reading stays.
func TestLinesOverTCP(t *testing.T) {
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	f := start(t, "tcp:"+l.Addr().String())
	accept := func() (net.Conn, func(string)) {
		c, err := l.Accept()
		if err != nil {
			t.Fatal(err)
		}
		return c, func(text string) {
			if _, err := c.Write([]byte(text)); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, send := accept()
	until(t, f, "open", func(s State) bool { return s.Open && s.Reading == nil && s.Trouble == "" })
	send("D=1.")
	send("20,F=33\r\nnothing of ours\n")
	s := until(t, f, "read", func(s State) bool { return s.Reading != nil })
	if *s.Reading.DepthM != 1.2 || *s.Reading.FrequencyHz != 33000 || s.Reading.Line != "D=1.20,F=33" || s.Reading.At.IsZero() {
		t.Errorf("%+v", s.Reading)
	}
	send("D=deep\n")
	s = until(t, f, "refused", func(s State) bool { return s.Refused == 1 })
	if !strings.Contains(s.Trouble, "deep") || *s.Reading.DepthM != 1.2 {
		t.Errorf("%+v", s)
	}
	send(strings.Repeat("x", 100_000) + "\nD=0.9\n")
	s = until(t, f, "read after a long line", func(s State) bool { return *s.Reading.DepthM == 0.9 })
	if s.Refused != 2 || s.Trouble != "" {
		t.Errorf("%+v", s)
	}
	_ = c.Close()
	until(t, f, "away", func(s State) bool { return !s.Open && strings.Contains(s.Trouble, "locator closed") })
	c, send = accept()
	defer c.Close()
	send("D=2\n")
	until(t, f, "back", func(s State) bool { return s.Open && *s.Reading.DepthM == 2 })
}

func TestRecording(t *testing.T) {
	path := filepath.Join(t.TempDir(), "day.txt")
	if err := os.WriteFile(path, []byte("D=1\nD=1.1\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	f := start(t, "file:"+path)
	s := until(t, f, "over", func(s State) bool { return s.Trouble == "the recording is over" })
	if *s.Reading.DepthM != 1.1 || s.Source != "recording day.txt" {
		t.Errorf("%+v", s)
	}
}

package position

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"groundsheet/serve/device"
)

// patient is how long the slowest machine gets.
const patient = 20 * time.Second

// quick tries again soon.
var quick = Options{Retry: 20 * time.Millisecond}

// second is one epoch of a receiver that does not move.
func second(n int, quality string) string {
	clock := fmt.Sprintf("10%02d%02d.00", n/60%60, n%60)
	return with("GNGGA,"+clock+",4043.58720,N,07359.73440,W,"+quality+",18,0.6,35.2,M,-34.2,M,,") + "\r\n" +
		with("GNGST,"+clock+",,,,,0.014,0.011,0.021") + "\r\n"
}

// run starts a feed and ends it with the test, and sees that nothing is left.
func run(t *testing.T, address string, o Options) *Feed {
	t.Helper()
	a, err := device.ParseAddress("receiver", address)
	if err != nil {
		t.Fatal(err)
	}
	f := NewFeed(a, o)
	before := runtime.NumGoroutine()
	files := openFiles(t)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { f.Run(ctx); close(ended) }()
	t.Cleanup(func() {
		stop()
		select {
		case <-ended:
		case <-time.After(patient):
			t.Error("the feed does not end")
		}
		for began := time.Now(); runtime.NumGoroutine() > before || openFiles(t) > files; time.Sleep(10 * time.Millisecond) {
			if time.Since(began) > patient {
				t.Errorf("%d goroutines and %d files, before %d and %d", runtime.NumGoroutine(), openFiles(t), before, files)
				return
			}
		}
	})
	return f
}

// openFiles counts the descriptors of this process where the system tells.
func openFiles(t *testing.T) int {
	t.Helper()
	all, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(all)
}

// until waits for a state that is as wanted.
func until(t *testing.T, f *Feed, what string, wanted func(FeedState) bool) FeedState {
	t.Helper()
	states, stop := f.Subscribe()
	defer stop()
	deadline := time.After(patient)
	for {
		select {
		case s := <-states:
			if wanted(s) {
				return s
			}
		case <-deadline:
			t.Fatalf("never %s; now %+v", what, f.State())
		}
	}
}

func phase(p Phase) func(FeedState) bool { return func(s FeedState) bool { return s.Phase == p } }

func listen(t *testing.T, address string) *net.TCPListener {
	t.Helper()
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	return l.(*net.TCPListener)
}

func accept(t *testing.T, l *net.TCPListener) net.Conn {
	t.Helper()
	_ = l.SetDeadline(time.Now().Add(patient))
	c, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func send(t *testing.T, c interface{ Write([]byte) (int, error) }, text string) {
	t.Helper()
	if _, err := c.Write([]byte(text)); err != nil {
		t.Fatal(err)
	}
}

// A receiver on the network that comes, is cut, refuses, and comes back.
func TestTCPCutAndRestored(t *testing.T) {
	l := listen(t, "127.0.0.1:0")
	f := run(t, "tcp:"+l.Addr().String(), quick)
	c := accept(t, l)
	send(t, c, second(1, "4"))
	// one burst is enough: the fix is told when the receiver pauses
	s := until(t, f, "found", phase(PhaseFix))
	if s.Fix.Kind != Fixed || s.Fix.Basis != FromGST || !s.Live(time.Now()) || s.Recorded {
		t.Errorf("%+v", s.Fix)
	}
	send(t, c, second(2, "0"))
	s = until(t, f, "without a fix", phase(PhaseNoFix))
	if s.Live(time.Now()) || s.Fix == nil || s.Fix.Time.Second() != 1 {
		t.Errorf("the latest position is kept, and is not live: %+v", s)
	}
	_ = c.Close()
	_ = l.Close() // now nobody answers there
	s = until(t, f, "away", func(s FeedState) bool { return s.Phase == PhaseAway && strings.Contains(s.Problem, "no answer") })
	if strings.Contains(s.Problem, "dial") || strings.Count(s.Problem, l.Addr().String()) != 1 {
		t.Errorf("what is away is told once, in plain words: %q", s.Problem)
	}
	if s.Live(time.Now()) || s.Fix == nil {
		t.Errorf("%+v", s)
	}
	l = listen(t, l.Addr().String())
	c = accept(t, l)
	defer c.Close()
	send(t, c, second(60, "5"))
	s = until(t, f, "found again", phase(PhaseFix))
	if s.Fix.Kind != Float || s.Problem != "" {
		t.Errorf("%+v", s)
	}
}

// A connection that says nothing is made anew.
func TestTCPThatFallsSilent(t *testing.T) {
	l := listen(t, "127.0.0.1:0")
	o := quick
	o.Silence = 300 * time.Millisecond
	f := run(t, "tcp:"+l.Addr().String(), o)
	first := accept(t, l)
	defer first.Close()
	second := accept(t, l)
	defer second.Close()
	until(t, f, "away", func(s FeedState) bool {
		return strings.Contains(s.Problem, "nothing came for 300ms") || s.Phase == PhaseSilent
	})
}

// What comes is told when it is no NMEA, by a clock that the test turns.
func TestWhatComesIsTold(t *testing.T) {
	for _, c := range []struct{ name, bytes, words string }{
		{"nothing", "", "it sends nothing"},
		{"binary", "\xb5\x62\x01\x07", "not NMEA 0183"},
		{"the wrong baud rate", "$\x80\x81\n", "baud rate"},
		{"other sentences", with("GPGSV,1,1,00") + "\r\n", "data but no positions"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := NewFeed(device.Address{}, Options{})
			now := time.Now()
			v := connection{feed: f, decoder: NewDecoder(Options{}), opened: now, byteAt: now}
			v.Idle(now)
			if s := f.State(); s.Phase != PhaseSilent || s.Problem != "opened; waiting for a position" {
				t.Errorf("at first %+v", s)
			}
			for range 70 {
				now = now.Add(100 * time.Millisecond)
				if c.bytes != "" {
					v.Receive([]byte(c.bytes), now)
				} else {
					v.Idle(now)
				}
			}
			if s := f.State(); s.Phase != PhaseSilent || !strings.Contains(s.Problem, c.words) {
				t.Errorf("then %+v", s)
			}
		})
	}
}

func TestUDP(t *testing.T) {
	free, err := (&net.ListenConfig{}).ListenPacket(t.Context(), "udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := free.LocalAddr().String()
	_ = free.Close()
	f := run(t, "udp:"+at, quick)
	until(t, f, "listening", phase(PhaseSilent))
	sender := func() net.Conn {
		c, err := (&net.Dialer{}).DialContext(t.Context(), "udp", at)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = c.Close() })
		return c
	}
	receiver, stranger := sender(), sender()
	send(t, receiver, strings.TrimSpace(second(1, "4"))) // without its last line end
	s := until(t, f, "found", phase(PhaseFix))
	if s.Fix.Kind != Fixed || s.Fix.Basis != FromGST {
		t.Errorf("%+v", s.Fix)
	}
	send(t, stranger, second(2, "8"))
	send(t, receiver, second(3, "5"))
	s = until(t, f, "at second 3", func(s FeedState) bool { return s.Fix.Time.Second() == 3 })
	if s.Fix.Kind != Float {
		t.Errorf("%+v", s.Fix)
	}
	if s.Counts.Read != 4 {
		t.Errorf("%d sentences were read: another sender was let in", s.Counts.Read)
	}
}

func record(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "walk.nmea")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A recording takes its own time, is never live, and ends.
func TestRecording(t *testing.T) {
	path := record(t, "junk before\n"+second(1, "4")+second(2, "4")+second(3, "1"))
	began := time.Now()
	f := run(t, "file:"+path, quick)
	s := until(t, f, "found", phase(PhaseFix))
	if s.Live(time.Now()) || !s.Recorded || !s.Fix.Recorded || s.Fix.Live {
		t.Errorf("a recording looks live: %+v", s)
	}
	s = until(t, f, "over", phase(PhaseEnded))
	if took := time.Since(began); took < 1900*time.Millisecond {
		t.Errorf("three seconds of a recording took %v", took)
	}
	if s.Fix.Time.Second() != 3 || s.Fix.Kind != Autonomous {
		t.Errorf("%+v", s.Fix)
	}
}

func TestRecordingAgainAndAgain(t *testing.T) {
	path := record(t, second(1, "4")+second(2, "4"))
	f := run(t, "file:"+path+"?loop", quick)
	for range 2 {
		until(t, f, "at 2", func(s FeedState) bool { return s.Fix != nil && s.Fix.Time.Second() == 2 })
		until(t, f, "at 1 again", func(s FeedState) bool { return s.Fix.Time.Second() == 1 })
	}
}

// A file that is not there, and one with nothing in it, do not spin.
func TestRecordingThatCannotBePlayed(t *testing.T) {
	f := run(t, "file:"+filepath.Join(t.TempDir(), "none.nmea"), Options{})
	until(t, f, "away", func(s FeedState) bool { return s.Phase == PhaseAway && strings.Contains(s.Problem, "cannot be read") })
	f = run(t, "file:"+record(t, "")+"?loop", Options{})
	until(t, f, "over", phase(PhaseEnded))
	f = run(t, "file:"+t.TempDir(), Options{})
	until(t, f, "away", func(s FeedState) bool { return strings.Contains(s.Problem, "not a file") })
}

// The pace of a recording is that of the times in its sentences.
func TestTimeOfDay(t *testing.T) {
	at, ok := timeOfDay([]byte(with("GNGST,235959.500,,,,,0.1,0.1,0.1") + "\r\n"))
	if want := 24*time.Hour - 500*time.Millisecond; !ok || at != want {
		t.Errorf("%v, %v, want %v", at, ok, want)
	}
	for _, line := range []string{"", "junk", "$GNGST,020000,,,,,0.1,0.1,0.1*00\r\n", with("GPGSV,1,1,00")} {
		if at, ok := timeOfDay([]byte(line)); ok {
			t.Errorf("%q has the time %v", line, at)
		}
	}
}

// A watcher that does not fetch gets the latest state alone and holds nobody up.
func TestSlowWatcher(t *testing.T) {
	f := NewFeed(device.Address{}, Options{})
	states, stop := f.Subscribe()
	for n := range 1000 {
		f.update(func(s *FeedState) { s.Counts.Read = int64(n) })
	}
	if s := <-states; s.Counts.Read != 999 {
		t.Errorf("got state %d", s.Counts.Read)
	}
	select {
	case s := <-states:
		t.Errorf("another one waited: %+v", s)
	default:
	}
	stop()
	f.update(func(s *FeedState) { s.Phase = PhaseFix })
	if len(states) > 0 || len(f.subscribers) > 0 {
		t.Error("told after the end")
	}
}

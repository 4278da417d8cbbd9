package device

import (
	"net"
	"testing"
	"time"
)

// Another sender is let in only when the first has been silent for a while.
func TestUDPSendersTakeTurns(t *testing.T) {
	c, err := (&net.ListenConfig{}).ListenPacket(t.Context(), "udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	d := &datagrams{PacketConn: c, now: func() time.Time { return now }}
	defer d.Close()
	var senders [2]net.Conn
	for i := range senders {
		if senders[i], err = (&net.Dialer{}).DialContext(t.Context(), "udp", c.LocalAddr().String()); err != nil {
			t.Fatal(err)
		}
		defer senders[i].Close()
	}
	for _, step := range []struct {
		after  time.Duration
		sender int
		heard  bool
	}{{0, 0, true}, {5 * time.Second, 1, false}, {5 * time.Second, 0, true}, {11 * time.Second, 1, true}, {time.Second, 0, false}} {
		now = now.Add(step.after)
		if _, err := senders[step.sender].Write([]byte("$")); err != nil {
			t.Fatal(err)
		}
		buffer := make([]byte, 16)
		n, err := d.read(buffer, map[bool]time.Duration{true: 20 * time.Second, false: readTimeout}[step.heard])
		if err != nil || (n > 0) != step.heard {
			t.Errorf("sender %d after %v: %d bytes, %v", step.sender, step.after, n, err)
		}
	}
}

func TestPauses(t *testing.T) {
	clock, known := time.Duration(0), true
	r := &recording{pace: func([]byte) (time.Duration, bool) { return clock, known }}
	const day = 24 * time.Hour
	for _, c := range []struct{ clock, want time.Duration }{
		{day - 2*time.Second, 0}, {day - 500*time.Millisecond, 1500 * time.Millisecond}, {time.Second, 1500 * time.Millisecond},
		{time.Second, 0}, {0, 0}, {time.Hour, time.Minute},
	} {
		clock = c.clock
		if got := r.gap(nil); got != c.want {
			t.Errorf("at %v a pause of %v, want %v", c.clock, got, c.want)
		}
	}
	clock, known = 2*time.Hour, false
	if got := r.gap(nil); got != 0 {
		t.Errorf("a line without a time makes a pause of %v", got)
	}
	if got := (&recording{}).gap(nil); got != time.Second {
		t.Errorf("lines that have no times are %v apart", got)
	}
}

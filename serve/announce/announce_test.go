package announce

import (
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

func TestValid(t *testing.T) {
	for name, want := range map[string]bool{
		"groundsheet": true, "crew-7": true, "A1": true, "7": true,
		"": false, "-a": false, "a-": false, "a.b": false, "a b": false, "größe": false, "a_b": false, strings.Repeat("a", 63): true, strings.Repeat("a", 64): false,
	} {
		if Valid(name) != want {
			t.Errorf("%q: not %v", name, want)
		}
	}
	if _, err := Start("no name", netip.Addr{}); err == nil {
		t.Error("a name with a space is announced")
	}
}

// TestAnswers asks in the plain way of RFC 6762, 6.7, as some phones do: from a port that is
// not 5353. The answer goes to the asker, with the asker's number and question, and is
// kept for 10 s at most. A machine without a network says why it cannot announce.
func TestAnswers(t *testing.T) {
	at := netip.MustParseAddr("192.168.4.1")
	stop, err := Start("crew-7-of-a-test", at)
	if err != nil {
		if err.Error() == "" {
			t.Error("no reason is given")
		}
		t.Logf("this machine has no network to announce on: %v", err)
		return
	}
	defer stop()
	own := ownAddress(t)
	c, err := net.DialUDP("udp4", nil, &net.UDPAddr{IP: own, Port: 5353})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	ask := func(name string, kind dnsmessage.Type, patience time.Duration) *dnsmessage.Message {
		t.Helper()
		q := dnsmessage.Message{Header: dnsmessage.Header{ID: 4711}, Questions: []dnsmessage.Question{{Name: dnsmessage.MustNewName(name), Type: kind, Class: dnsmessage.ClassINET}}}
		b, err := q.Pack()
		if err != nil {
			t.Fatal(err)
		}
		in := make([]byte, 1500)
		for end := time.Now().Add(patience); time.Now().Before(end); { // a datagram may be lost
			if _, err := c.Write(b); err != nil {
				t.Fatal(err)
			}
			if err := c.SetReadDeadline(time.Now().Add(500 * time.Millisecond)); err != nil {
				t.Fatal(err)
			}
			n, err := c.Read(in)
			if err != nil {
				continue
			}
			var m dnsmessage.Message
			if err := m.Unpack(in[:n]); err != nil {
				t.Fatal(err)
			}
			return &m
		}
		return nil
	}
	m := ask("crew-7-of-a-test.local.", dnsmessage.TypeA, 10*time.Second)
	if m == nil {
		t.Fatal("no answer")
	}
	if m.ID != 4711 || !m.Response || len(m.Questions) != 1 || len(m.Answers) != 1 || m.Answers[0].Header.TTL > 10 || m.Answers[0].Header.Class != dnsmessage.ClassINET {
		t.Errorf("%+v", m)
	}
	if a, ok := m.Answers[0].Body.(*dnsmessage.AResource); !ok || a.A != at.As4() {
		t.Errorf("%+v", m.Answers[0])
	}
	if m := ask("another-name-of-a-test.local.", dnsmessage.TypeA, time.Second); m != nil {
		t.Errorf("an answer for another name: %+v", m)
	}
}

// ownAddress is one that a phone could ask.
func ownAddress(t *testing.T) net.IP {
	t.Helper()
	all, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() {
			return n.IP
		}
	}
	t.Fatal("it announces, but the machine has no address")
	return nil
}

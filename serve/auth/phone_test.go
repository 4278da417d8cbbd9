package auth

import (
	"context"
	"crypto/tls"
	"encoding/binary"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// TestRunningRequests: how many requests of one session and of one address run at once, while
// those of others go on, and one that lasts takes no place.
func TestRunningRequests(t *testing.T) {
	var running, most, lasting atomic.Int64
	hold := make(chan struct{})
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/lasting":
			PhoneOf(r).Lasting()
			lasting.Add(1)
			<-hold
		case "/held":
			n := running.Add(1)
			defer running.Add(-1)
			for was := most.Load(); n > was && !most.CompareAndSwap(was, n); was = most.Load() {
			}
			<-hold
		}
	})
	g, _, err := New(inner, Options{LookCode: lookCode, MarkCode: markCode, Page: joinFiles})
	if err != nil {
		t.Fatal(err)
	}
	g.turns.patience = 20 * time.Second
	one, _ := g.sessions.make(Look)
	ask := func(path, from, token string) int {
		r := httptest.NewRequestWithContext(t.Context(), "GET", "http://localhost"+path, nil)
		r.RemoteAddr = from + ":9"
		r.AddCookie(&http.Cookie{Name: plainCookie, Value: token})
		w := httptest.NewRecorder()
		g.ServeHTTP(w, r)
		return w.Code
	}
	var all sync.WaitGroup
	var refused atomic.Int64
	crowd := func(n int, path, from string, token func() string) {
		for range n {
			said := token()
			all.Go(func() {
				if ask(path, from, said) == http.StatusServiceUnavailable {
					refused.Add(1)
				}
			})
		}
	}
	until := func(what string, done func() bool) {
		t.Helper()
		for end := time.Now().Add(10 * time.Second); !done(); time.Sleep(time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("%s: %d run, %d refused", what, running.Load(), refused.Load())
			}
		}
	}
	same := func() string { return one }
	crowd(40, "/lasting", "192.168.0.1", same)
	until("lasting ones", func() bool { return lasting.Load() == 40 })
	if len(g.turns.lines) != 0 {
		t.Errorf("lasting ones take places: %v", g.turns.lines)
	}
	crowd(mostOfSession+mostWaiting+5, "/held", "192.168.0.1", same)
	until("one session", func() bool { return running.Load() == mostOfSession && refused.Load() == 5 })
	crowd(50, "/held", "192.168.0.2", func() string { other, _ := g.sessions.make(Look); return other })
	until("one address", func() bool { return running.Load() == mostOfSession+mostOfAddress })
	if status := ask("/", "192.168.0.3", func() string { other, _ := g.sessions.make(Look); return other }()); status != 200 {
		t.Errorf("another phone: %d", status)
	}
	close(hold)
	all.Wait()
	if most.Load() != mostOfSession+mostOfAddress || len(g.turns.lines) != 0 {
		t.Errorf("%d ran at once, %d lines are left", most.Load(), len(g.turns.lines))
	}
}

// TestTurns: who goes away or waits too long leaves no trace; nobody has limits without a phone.
func TestTurns(t *testing.T) {
	turns := NewTurns(1, 1, 5, 10*time.Millisecond)
	p := &Phone{session: [16]byte{1}, from: v4(1)}
	done, ok := turns.Take(t.Context(), p)
	if !ok {
		t.Fatal("the first one waits")
	}
	if _, ok := turns.Take(t.Context(), p); ok {
		t.Error("two at once")
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if _, ok := turns.Take(ended, p); ok {
		t.Error("two at once")
	}
	if _, ok := turns.Take(t.Context(), &Phone{session: [16]byte{2}, from: v4(1)}); ok {
		t.Error("two of one address at once")
	}
	done()
	done()
	if len(turns.lines) != 0 {
		t.Errorf("%v", turns.lines)
	}
	for range 3 {
		if _, ok := turns.Take(t.Context(), nil); !ok {
			t.Error("a limit for nobody")
		}
	}
}

// TestStreamsOfOneConnection reads what the server says of HTTP/2 at the beginning (RFC 9113,
// 6.5.2: SETTINGS_MAX_CONCURRENT_STREAMS is 3).
func TestStreamsOfOneConnection(t *testing.T) {
	s := open(t, func(o *Options) { o.HTTPS = true })
	config := trusting(t, s).TLSClientConfig.Clone()
	config.NextProtos = []string{"h2"}
	c, err := (&tls.Dialer{Config: config}).DialContext(t.Context(), "tcp", s.Addr.String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\x00\x00\x00\x04\x00\x00\x00\x00\x00"); err != nil {
		t.Fatal(err)
	}
	head := make([]byte, 9)
	if _, err := io.ReadFull(c, head); err != nil || head[3] != 4 {
		t.Fatalf("%v %x", err, head)
	}
	settings := make([]byte, int(head[1])<<8|int(head[2]))
	if _, err := io.ReadFull(c, settings); err != nil {
		t.Fatal(err)
	}
	told := uint32(0)
	for ; len(settings) >= 6; settings = settings[6:] {
		if binary.BigEndian.Uint16(settings) == 3 {
			told = binary.BigEndian.Uint32(settings[2:])
		}
	}
	if told != mostStreams {
		t.Errorf("%d streams at once", told)
	}
}

package auth

import (
	"context"
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
			PhoneOf(r).Release()
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
	g, _, err := New(inner, Options{ViewerCode: viewerCode, RecorderCode: recorderCode, Page: joinFS})
	if err != nil {
		t.Fatal(err)
	}
	g.limiter.wait = 20 * time.Second
	one := g.sessions.issue(Viewer)
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
	send := func(n int, path, from string, token func() string) {
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
	send(40, "/lasting", "192.168.0.1", same)
	until("lasting ones", func() bool { return lasting.Load() == 40 })
	if len(g.limiter.slots) != 0 {
		t.Errorf("lasting ones take places: %v", g.limiter.slots)
	}
	send(maxPerSession+maxQueued+5, "/held", "192.168.0.1", same)
	until("one session", func() bool { return running.Load() == maxPerSession && refused.Load() == 5 })
	send(50, "/held", "192.168.0.2", func() string { return g.sessions.issue(Viewer) })
	until("one address", func() bool { return running.Load() == maxPerSession+maxPerAddress })
	if status := ask("/", "192.168.0.3", g.sessions.issue(Viewer)); status != 200 {
		t.Errorf("another phone: %d", status)
	}
	close(hold)
	all.Wait()
	if most.Load() != maxPerSession+maxPerAddress || len(g.limiter.slots) != 0 {
		t.Errorf("%d ran at once, %d lines are left", most.Load(), len(g.limiter.slots))
	}
}

// TestLimiter: who goes away or waits too long leaves no trace; nobody has limits without a phone.
func TestLimiter(t *testing.T) {
	limiter := NewLimiter(1, 1, 5, 10*time.Millisecond)
	p := &Phone{session: sessionID{1}, addr: v4(1)}
	done, ok := limiter.Acquire(t.Context(), p)
	if !ok {
		t.Fatal("the first one waits")
	}
	if _, ok := limiter.Acquire(t.Context(), p); ok {
		t.Error("two at once")
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if _, ok := limiter.Acquire(ended, p); ok {
		t.Error("two at once")
	}
	if _, ok := limiter.Acquire(t.Context(), &Phone{session: sessionID{2}, addr: v4(1)}); ok {
		t.Error("two of one address at once")
	}
	done()
	done()
	if len(limiter.slots) != 0 {
		t.Errorf("%v", limiter.slots)
	}
	for range 3 {
		if _, ok := limiter.Acquire(t.Context(), nil); !ok {
			t.Error("a limit for nobody")
		}
	}
}

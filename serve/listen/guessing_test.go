package listen

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"runtime"
	"sync"
	"testing"
	"time"
)

// phoneAt sends from an address of this machine, over connections of its own.
func phoneAt(t testing.TB, from string) *http.Transport {
	t.Helper()
	d := net.Dialer{LocalAddr: net.TCPAddrFromAddrPort(netip.AddrPortFrom(netip.MustParseAddr(from), 0))}
	return &http.Transport{DialContext: d.DialContext, DisableKeepAlives: true}
}

// TestAttackManyGuessers: 250 addresses guess without rest. Thirty newcomers with the right
// code come in, a map program that sends it each time is served each time, and the
// guessing is told.
func TestAttackManyGuessers(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only here 127.0.0.0/8 is all of this machine")
	}
	s := open(t, nil)
	program := phoneAt(t, "127.0.2.1")
	ctx, stop := context.WithCancel(t.Context())
	var all sync.WaitGroup
	for n := range 4 {
		all.Go(func() {
			for i := 0; ctx.Err() == nil; i++ {
				by := phoneAt(t, fmt.Sprintf("127.0.1.%d", (4*i+n)%250+1))
				askBy(t, by, "POST", s.url+"/join", fmt.Sprintf(`{"code":"%06d%06d"}`, n, i), "Content-Type", "application/json")
			}
		})
	}
	for end := time.Now().Add(30 * time.Second); s.Guessing() == nil || s.Guessing().Addresses < 250; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("no guessing is told: %+v", s.Guessing())
		}
	}
	for n := range 30 {
		began := time.Now()
		a := askBy(t, phoneAt(t, fmt.Sprintf("127.0.3.%d", n+1)), "POST", s.url+"/join", `{"code":"`+viewerCode+`"}`, "Content-Type", "application/json")
		if took := time.Since(began); a.StatusCode != 200 || took > 3*time.Second {
			t.Errorf("newcomer %d: %s after %v", n, a.Status, took)
		}
		if a := askBy(t, program, "GET", s.url+"/x", "", "Authorization", basic(viewerCode)); a.StatusCode != 200 {
			t.Errorf("the map program: %s", a.Status)
		}
	}
	stop()
	all.Wait()
	if g := s.Guessing(); g.Wrong < 250 || g.Addresses != 250 || g.Busiest == "" {
		t.Errorf("%+v", g)
	}
}

// TestStaleProgramAndUser: a map program with an old code asks without rest from the
// address where a person types the right one.
func TestStaleProgramAndUser(t *testing.T) {
	s := open(t, nil)
	for i := range 200 {
		if a := ask(t, "GET", s.url+"/x", "", "Authorization", basic("111222333444")); a.StatusCode != 401 {
			t.Fatalf("request %d with an old code: %s", i, a.Status)
		}
	}
	if a := join(t, s, viewerCode); a.StatusCode != 200 {
		t.Errorf("the person: %s", a.Status)
	}
	if g := s.Guessing(); g != nil {
		t.Errorf("an old code is taken for guessing: %+v", g)
	}
}

package listen

import (
	"fmt"
	"groundsheet/serve/auth"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// limiterOf makes a limiter; add adds a connection by a name, and closed returns the names of those that were
// closed.
func limiterOf(most limits) (l *connLimiter, add func(name string, from netip.Addr) *tracked, closed func() string) {
	l = newConnLimiter(most)
	var out []string
	return l, func(name string, from netip.Addr) *tracked {
			c := l.add(from, func() { out = append(out, name) })
			if c != nil {
				time.Sleep(time.Microsecond)
			}
			return c
		}, func() string {
			all := strings.Join(out, " ")
			out = nil
			return all
		}
}

// TestConnLimiter: which connection goes when there are too many.
func TestConnLimiter(t *testing.T) {
	l, add, closed := limiterOf(limits{conns: 6, connsReserved: 2, connsPerAddr: 3})
	first := add("a1", v4(1))
	first.used.Store(true)
	add("a2", v4(1))
	add("a3", v4(1))
	if add("a4", v4(1)); closed() != "a2" {
		t.Error("beyond its own limit an address loses its oldest that never asked")
	}
	add("b1", v4(2))
	if add("b2", v4(2)); closed() != "a3" {
		t.Error("with the strangers' places full the oldest that never asked goes")
	}
	phone := add("c1", v4(3))
	if closed() != "a4" || phone == nil {
		t.Error("a stranger gets no place")
	}
	phone.admit()
	phone.running.Add(1)
	for _, name := range []string{"d1", "e1", "f1", "g1", "h1", "i1"} {
		if add(name, v4(int(name[0]))) == nil {
			t.Error("a stranger gets no place")
		}
	}
	if out := closed(); strings.Contains(out, "c1") || len(l.open) != 5 {
		t.Errorf("%s had to go, %d are left", out, len(l.open))
	}
	for i := range 2 {
		if g := add("c"+fmt.Sprint(i+2), v4(3)); g == nil || !g.admitted.Load() {
			t.Error("who is in has no place of its own")
		} else {
			g.running.Add(1)
		}
	}
	if add("c4", v4(3)) != nil || strings.Contains(closed(), "c") {
		t.Error("a phone cuts off its own answers")
	}
	for c := range l.open {
		c.remove()
		c.remove()
	}
	if len(l.open) != 0 || len(l.byAddr) != 0 {
		t.Errorf("%d are left, %v", len(l.open), l.byAddr)
	}
}

// TestConnLimiterCountsNetworks: IPv6 addresses of one /64 count as one, this machine's own is not counted.
func TestConnLimiterCountsNetworks(t *testing.T) {
	l, add, closed := limiterOf(limits{conns: 100, connsPerAddr: 3})
	for i := range 30 {
		add(fmt.Sprint(i), v6(i))
	}
	if n := l.byAddr[auth.LimitAddr(v6(0))]; n != 24 || closed() != "0 1 2 3 4 5" {
		t.Errorf("%d connections of one network", n)
	}
	for range 20 {
		if add("own", netip.MustParseAddr("127.0.0.1")) == nil || add("own", netip.MustParseAddr("::1")) == nil {
			t.Error("this machine has a limit")
		}
	}
	if add("other", nets6(1)); closed() != "" || l.byAddr[auth.LimitAddr(nets6(1))] != 1 {
		t.Error("another network")
	}
	l.admitted.Add(netip.Addr{}, struct{}{})
	for i := range 2 * maxAdmitted {
		(&tracked{limiter: l, from: wide(i)}).admit()
	}
	if l.admitted.Len() != maxAdmitted || !l.admitted.Contains(wide(2*maxAdmitted-1)) {
		t.Errorf("%d addresses that are in are known", l.admitted.Len())
	}
}

func v4(n int) netip.Addr { return netip.AddrFrom4([4]byte{192, 168, byte(n >> 8), byte(n)}) }
func wide(n int) netip.Addr {
	return netip.AddrFrom4([4]byte{10, byte(n >> 16), byte(n >> 8), byte(n)})
}

// v6 are addresses of one /64, nets6 each of a /64 of its own.
func v6(n int) netip.Addr { return netip.MustParseAddr(fmt.Sprintf("fe80::%x", n+1)) }
func nets6(n int) netip.Addr {
	return netip.MustParseAddr(fmt.Sprintf("fd00:0:%x:%x::1", n>>16, n&0xffff))
}

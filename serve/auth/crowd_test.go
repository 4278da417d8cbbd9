package auth

import (
	"fmt"
	"net/netip"
	"strings"
	"testing"
	"time"
)

// crowdOf makes a crowd and says how to enter it; gone tells the names of connections that
// had to go.
func crowdOf(l limits) (c *crowd, enter func(name string, from netip.Addr) *guest, gone func() string) {
	c = newCrowd(l)
	var out []string
	return c, func(name string, from netip.Addr) *guest {
			g := c.enter(from, func() { out = append(out, name) })
			if g != nil {
				time.Sleep(time.Microsecond)
			}
			return g
		}, func() string {
			all := strings.Join(out, " ")
			out = nil
			return all
		}
}

// TestCrowd: which connection goes when there are too many.
func TestCrowd(t *testing.T) {
	c, enter, gone := crowdOf(limits{conns: 6, connsKept: 2, connsEach: 3})
	first := enter("a1", v4(1))
	first.asked.Store(true)
	enter("a2", v4(1))
	enter("a3", v4(1))
	if enter("a4", v4(1)); gone() != "a2" {
		t.Error("beyond its own limit an address loses its oldest that never asked")
	}
	enter("b1", v4(2))
	if enter("b2", v4(2)); gone() != "a3" {
		t.Error("with the strangers' places full the oldest that never asked goes")
	}
	phone := enter("c1", v4(3))
	if gone() != "a4" || phone == nil {
		t.Error("a stranger gets no place")
	}
	phone.welcome()
	phone.running.Add(1)
	for _, name := range []string{"d1", "e1", "f1", "g1", "h1", "i1"} {
		if enter(name, v4(int(name[0]))) == nil {
			t.Error("a stranger gets no place")
		}
	}
	if out := gone(); strings.Contains(out, "c1") || len(c.guests) != 5 {
		t.Errorf("%s had to go, %d are left", out, len(c.guests))
	}
	for i := range 2 {
		if g := enter("c"+fmt.Sprint(i+2), v4(3)); g == nil || !g.in.Load() {
			t.Error("who is in has no place of its own")
		} else {
			g.running.Add(1)
		}
	}
	if enter("c4", v4(3)) != nil || strings.Contains(gone(), "c") {
		t.Error("a phone cuts off its own answers")
	}
	for g := range c.guests {
		c.leave(g)
		c.leave(g)
	}
	if len(c.guests) != 0 || len(c.by) != 0 {
		t.Errorf("%d are left, %v", len(c.guests), c.by)
	}
}

// TestCrowdCountsNetworks: IPv6 addresses of one /64 count as one, this machine's own is not counted.
func TestCrowdCountsNetworks(t *testing.T) {
	c, enter, gone := crowdOf(limits{conns: 100, connsEach: 3})
	for i := range 30 {
		enter(fmt.Sprint(i), v6(i))
	}
	if n := c.by[counted(v6(0))]; n != 24 || gone() != "0 1 2 3 4 5" {
		t.Errorf("%d connections of one network", n)
	}
	for range 20 {
		if enter("own", netip.MustParseAddr("127.0.0.1")) == nil || enter("own", netip.MustParseAddr("::1")) == nil {
			t.Error("this machine has a limit")
		}
	}
	if enter("other", nets6(1)); gone() != "" || c.by[counted(nets6(1))] != 1 {
		t.Error("another network")
	}
	c.in[netip.Addr{}] = time.Time{}
	for i := range 2 * mostIn {
		(&guest{crowd: c, from: wide(i)}).welcome()
	}
	if _, kept := c.in[wide(2*mostIn-1)]; len(c.in) != mostIn || !kept {
		t.Errorf("%d addresses that are in are known", len(c.in))
	}
}
